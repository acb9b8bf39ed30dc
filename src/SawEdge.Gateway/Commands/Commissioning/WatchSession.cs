using Microsoft.Extensions.Logging;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core;
using SawEdge.Core.Cutting;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Hosting;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>
/// Reads one saw of a configuration as the gateway would, and keeps what there is to see of it. Nothing is stored, nothing is delivered,
/// and nothing is said at a broker: the session there is another one than the gateway's.
/// </summary>
internal sealed class WatchSession : IDisposable
{
    private readonly GatewayOptions _options;
    private readonly SawOptions _saw;
    private readonly TimeProvider _time;
    private readonly ILoggerFactory _loggers;
    private readonly SawInbox _inbox;

    /// <summary>Prepares; <see cref="RunAsync"/> reads.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="saw">The saw in it.</param>
    /// <param name="time">The clock.</param>
    public WatchSession(GatewayOptions options, SawOptions saw, TimeProvider time)
    {
        _options = OfOneSaw(options, saw);
        _saw = saw;
        _time = time;
        Places = SignalPlace.Of(saw, new WatchUnits(options.Units));
        Watch = new SawWatch(Places, new SawPipeline(saw.Machine, Jobs(options, time), saw.Blade, options.LoadScore), time);
        Troubles = new Troubles(time);
        _loggers = LoggerFactory.Create(logging => logging.AddProvider(Troubles));
        _inbox = new SawInbox(saw.Name, derived: saw.Derived);
    }

    /// <summary>The signals that the saw maps.</summary>
    public IReadOnlyList<SignalPlace> Places { get; }

    /// <summary>What there is to see.</summary>
    public SawWatch Watch { get; }

    /// <summary>What is wrong.</summary>
    public Troubles Troubles { get; }

    /// <summary>What stands above the signals.</summary>
    public WatchHead Head => new(_saw.Name, SourceWords.Of(_options, _saw), _saw.Interval, SourceWords.Hint(_options, _saw));

    /// <summary>Reads until it is stopped.</summary>
    /// <param name="stop">Stops it; the task then ends without an exception.</param>
    public async Task RunAsync(CancellationToken stop)
    {
        var sources = SourceLoops.Build(_options, new Dictionary<string, SawInbox> { [_saw.Name] = _inbox }, _time, _loggers, Watch).Select(source => source.RunAsync(stop)).ToList();
        var taking = TakeAsync();
        try
        {
            await Task.WhenAll(sources);
        }
        catch (OperationCanceledException) when (stop.IsCancellationRequested)
        {
            // The orderly end.
        }
        finally
        {
            _inbox.Complete();
            await taking;
        }
    }

    /// <inheritdoc/>
    public void Dispose() => _loggers.Dispose();

    /// <summary>
    /// The configuration with one saw alone. At a broker it has an identifier of its own, so that it does not throw out the gateway, and
    /// says and leaves nothing: no session, no presence, no state of a host, no request for a birth.
    /// </summary>
    public static GatewayOptions OfOneSaw(GatewayOptions options, SawOptions saw) => options with
    {
        Saws = [saw with { Source = WithoutTemplate(saw.Source) }],
        MqttBrokers = [.. options.MqttBrokers.Select(broker => broker with
        {
            ClientId = $"{broker.ClientId}-watch-{Environment.ProcessId}",
            KeepSession = false,
            PresenceTopic = null,
            Sparkplug = broker.Sparkplug is { } host ? host with { HostId = null, Rebirth = false } : null,
        })],
    };

    // A template brings the messages of the other saws too, whose names would be strange here.
    private static SourceOptions WithoutTemplate(SourceOptions source) => source is MqttSourceOptions mqtt
        ? mqtt with { FrameTemplate = null, Signals = [.. mqtt.Signals.Select(mapping => mapping with { Template = null })] }
        : source;

    private async Task TakeAsync()
    {
        while (await _inbox.Frames.WaitToReadAsync())
        {
            while (_inbox.Frames.TryRead(out var frame))
                Watch.Take(frame);
        }
    }

    private static JobBook Jobs(GatewayOptions options, TimeProvider time)
    {
        if (options.JobsFile is not { } file)
            return JobBook.Empty;
        var jobs = new JobList(file, time, NullLogger<JobList>.Instance, options.Catalogue);
        jobs.Load();
        return jobs.Book;
    }
}
