using System.Diagnostics;
using System.Globalization;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core.Cutting;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.Benchmarks.Api;

/// <summary>Page and API before a large history. The machine clock stands where the history ends.</summary>
internal sealed class LargeServer : IAsyncDisposable
{
    /// <summary>Saws in the history.</summary>
    public const int Saws = 50;

    /// <summary>When the history ends.</summary>
    public static readonly DateTimeOffset End = new(2026, 6, 1, 10, 0, 0, TimeSpan.Zero);

    private readonly HistoryDatabase _database;
    private readonly HistoryWriter _writer;
    private readonly CancellationTokenSource _stop = new();
    private readonly Task _writing;
    private readonly Task _serving;

    private LargeServer(string folder, int port)
    {
        _database = HistoryDatabase.Open(folder);
        var context = Context(_database, folder, port);
        _writer = context.Writer;
        _writing = _writer.RunAsync(CancellationToken.None);
        Host = ApiHost.Build(context, null)[0];
        _serving = Host.RunAsync(_stop.Token);
    }

    /// <summary>Where it listens.</summary>
    public Uri Address => Host.Address!;

    /// <summary>The clock of the machine that the page is shown for.</summary>
    public TimeProvider Machine { get; } = new Stopped();

    private ApiHost Host { get; }

    /// <summary>Writes the history where it is not there yet, and serves it.</summary>
    /// <param name="cycles">Cycles in the history.</param>
    /// <param name="folder">Where the history is or will be.</param>
    /// <param name="port">Port on loopback; 0: a free one.</param>
    /// <param name="output">Where to say how long writing took.</param>
    public static async Task<LargeServer> StartAsync(int cycles, string folder, int port, TextWriter output)
    {
        await WriteAsync(folder, cycles, output);
        var server = new LargeServer(folder, port);
        await Until.TrueAsync(() => server.Host.Address is not null || server._serving.IsCompleted, "the page is served");
        if (server._serving.IsFaulted)
            await server._serving;
        return server;
    }

    /// <summary>Writes the history where it is not there yet.</summary>
    public static async Task WriteAsync(string folder, int cycles, TextWriter output)
    {
        if (File.Exists(Path.Combine(folder, HistoryDatabase.FileName)))
            return;
        Directory.CreateDirectory(folder);
        var began = Stopwatch.GetTimestamp();
        await LargeHistory.WriteAsync(folder, Saws, cycles, End);
        await output.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"{cycles:N0} cycles of {Saws} saws written in {Stopwatch.GetElapsedTime(began).TotalSeconds:0} s, {new FileInfo(Path.Combine(folder, HistoryDatabase.FileName)).Length / 1e6:N0} MB"));
    }

    /// <summary>Serves until Ctrl+C.</summary>
    public async Task UntilStoppedAsync()
    {
        ConsoleCancelEventHandler end = (_, pressed) =>
        {
            pressed.Cancel = true;
            _stop.Cancel();
        };
        Console.CancelKeyPress += end;
        await EndedAsync();
        Console.CancelKeyPress -= end;
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        await EndedAsync();
        _writer.Complete();
        await _writing;
        _database.Dispose();
        _stop.Dispose();
    }

    private async Task EndedAsync()
    {
        try
        {
            await _serving;
        }
        catch (OperationCanceledException)
        {
            // As asked.
        }
    }

    private static ApiContext Context(HistoryDatabase database, string folder, int port) => new()
    {
        Options = new GatewayOptions
        {
            Site = "Riverbend",
            Gateway = "benchmark",
            DataFolder = folder,
            Saws = [.. Enumerable.Range(0, Saws).Select(i => new SawOptions { Machine = new SawMachine { Name = LargeHistory.Saw(i) }, Source = new ModbusSourceOptions { Device = "d", Unit = 1, Signals = [] }, Interval = TimeSpan.FromMilliseconds(100) })],
            TimeZone = TimeZoneInfo.Utc,
            Calendar = new CalendarOptions(new ShiftCalendar(new CalendarPlan { Zone = TimeZoneInfo.Utc, Shifts = [new WeeklyShift("early", Enum.GetValues<DayOfWeek>().ToHashSet(), new TimeOnly(6, 0), new TimeOnly(14, 0), [])] }), new OeeSettings()),
            Http = new HttpOptions { Listen = new Uri($"http://127.0.0.1:{port}") },
        },
        Reader = new HistoryReader(database),
        Writer = new HistoryWriter(database, TimeProvider.System, NullLogger<HistoryWriter>.Instance),
        Time = TimeProvider.System,
        Machine = new Stopped(),
        Loggers = NullLoggerFactory.Instance,
    };

    private sealed class Stopped : TimeProvider
    {
        public override DateTimeOffset GetUtcNow() => End;
    }
}
