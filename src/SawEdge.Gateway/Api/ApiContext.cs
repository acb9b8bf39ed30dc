using Microsoft.Extensions.Logging;
using SawEdge.Core.Cutting;
using SawEdge.Gateway.Accounts;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Telemetry;

namespace SawEdge.Gateway.Api;

/// <summary>What the endpoints work with.</summary>
public sealed record ApiContext
{
    private GatewayOptions? _options;
    private OeeService? _oee;

    /// <summary>The configuration, as it is at the moment.</summary>
    public required GatewayOptions Options
    {
        get => Volatile.Read(ref _options)!;
        init => _options = value;
    }

    /// <summary>Questions to the history.</summary>
    public required HistoryReader Reader { get; init; }

    /// <summary>Changes of the history.</summary>
    public required HistoryWriter Writer { get; init; }

    /// <summary>The wall clock: tokens, audit, patience.</summary>
    public required TimeProvider Time { get; init; }

    /// <summary>The clock of the saws and of all data: what "now" means in answers. Differs from the wall clock only where virtual time runs.</summary>
    public required TimeProvider Machine { get; init; }

    /// <summary>Where endpoints speak.</summary>
    public required ILoggerFactory Loggers { get; init; }

    /// <summary>What the saws do at the moment; null where nothing tells, as in a tool that only reads a history.</summary>
    public ILiveSource? Live { get; init; }

    /// <summary>The job list as last read.</summary>
    public Func<JobBook> Jobs { get; init; } = () => JobBook.Empty;

    /// <summary>What is counted elsewhere and shown at <c>/metrics</c>; told how far the journal reaches.</summary>
    public Func<long, IEnumerable<Metric>> Metrics { get; init; } = _ => [];

    /// <summary>Name of a loop of the gateway that hangs, or null.</summary>
    public Func<string?> Hanging { get; init; } = () => null;

    /// <summary>What the gateway does of two that watch the same saws in turns (waiting, standby, active, yielding), or null: it watches them alone.</summary>
    public Func<string?> Standby { get; init; } = () => null;

    /// <summary>Where the time of the saws went.</summary>
    public OeeService Oee => Volatile.Read(ref _oee) ?? (_oee = new OeeService(Options, Reader, Writer, Machine, Time));

    /// <summary>The load of the last minutes.</summary>
    internal LoadTraces Traces => field ??= new LoadTraces(this);

    /// <summary>What the API itself counts.</summary>
    public ApiMeters Meters { get; } = new();

    /// <summary>The present moment of the saws.</summary>
    public DateTimeOffset Now => Machine.GetUtcNow();

    /// <summary>Goes over to another configuration: whoever asks from now on sees its saws and its calendar.</summary>
    public void TakeOver(GatewayOptions options)
    {
        Volatile.Write(ref _options, options);
        Volatile.Write(ref _oee, new OeeService(options, Reader, Writer, Machine, Time));
    }

    /// <summary>Whether a saw of this name is configured.</summary>
    public bool HasSaw(string name) => Options.Saws.Any(saw => saw.Name == name);
}
