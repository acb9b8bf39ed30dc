using System.Diagnostics;
using System.Globalization;
using System.Text.Json;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core.Cutting;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.Benchmarks.Api;

/// <summary>Requests to the API over real connections, one after the other, before a history of a million cycles of 50 saws.</summary>
internal static class ApiSpeed
{
    private const int Saws = 50;
    private const int Requests = 300;

    private static readonly DateTimeOffset End = new(2026, 6, 1, 10, 0, 0, TimeSpan.Zero);

    /// <summary>Measures and prints a table.</summary>
    /// <param name="cycles">Cycles in the history.</param>
    /// <param name="folder">Where the history is or will be; null: one that is removed again.</param>
    /// <param name="output">Where to print.</param>
    public static async Task RunAsync(int cycles, string? folder, TextWriter output)
    {
        using var temporary = new TempFolder();
        var place = folder ?? temporary.Path;
        if (!File.Exists(Path.Combine(place, HistoryDatabase.FileName)))
        {
            Directory.CreateDirectory(place);
            var began = Stopwatch.GetTimestamp();
            await LargeHistory.WriteAsync(place, Saws, cycles, End);
            await output.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"{cycles:N0} cycles of {Saws} saws written in {Stopwatch.GetElapsedTime(began).TotalSeconds:0} s, {new FileInfo(Path.Combine(place, HistoryDatabase.FileName)).Length / 1e6:N0} MB"));
        }

        using var database = HistoryDatabase.Open(place);
        var host = ApiHost.Build(Context(database, place), null)[0];
        using var stop = new CancellationTokenSource();
        var run = host.RunAsync(stop.Token);
        await Until.TrueAsync(() => host.Address is not null, "the API listens");
        using var http = new HttpClient { BaseAddress = new Uri(host.Address!, "/api/v1/") };

        var each = cycles / Saws;
        var random = new Random(1);
        string Any() => Uri.EscapeDataString(LargeHistory.Saw(random.Next(Saws)));
        string Within(int days)
        {
            var from = End - (LargeHistory.Distance * random.Next(each / 10, each)) - TimeSpan.FromDays(1);
            return $"from={from.UtcDateTime:yyyy-MM-ddTHH:mm:ssZ}&to={from.AddDays(days).UtcDateTime:yyyy-MM-ddTHH:mm:ssZ}";
        }

        await output.WriteLineAsync("| request | p50, ms | p99, ms | kB |");
        await output.WriteLineAsync("|---|---|---|---|");
        await MeasureAsync("/saws, figures of the shift known", () => "saws");
        await MeasureAsync("/saws/{name}", () => $"saws/{Any()}");
        await MeasureAsync("/cycles, the latest 100", () => "cycles?limit=100");
        await MeasureAsync("/cycles of a saw, 100", () => $"cycles?limit=100&saw={Any()}");
        await MeasureAsync("/cycles of a saw on some day, 100", () => $"cycles?limit=100&saw={Any()}&{Within(1)}");
        var cursor = await DeepAsync(http, End - (each / 2 * LargeHistory.Distance));
        await MeasureAsync("/cycles, 100 from a cursor in the middle", () => $"cycles?limit=100&cursor={cursor}");
        await MeasureAsync("/cycles of one job of a saw, 100", () => FormattableString.Invariant($"cycles?limit=100&saw={Uri.EscapeDataString(LargeHistory.Saw(7))}&job=order%20{random.Next(Math.Max(1, each / 50))}-7"));
        await MeasureAsync("/cycles of one job anywhere, 100", () => FormattableString.Invariant($"cycles?limit=100&job=order%20{random.Next(Math.Max(1, each / 50))}-7"), 20);
        await MeasureAsync("/cycles/{id}, everything stored", () => $"cycles/{Uri.EscapeDataString(LargeHistory.CycleId(random.Next(Saws), random.Next(each / LargeHistory.WholeEvery) * LargeHistory.WholeEvery))}");
        await stop.CancelAsync();
        try
        {
            await run;
        }
        catch (OperationCanceledException)
        {
            // As asked.
        }

        async Task MeasureAsync(string title, Func<string> path, int requests = Requests)
        {
            var (times, bytes) = (new double[requests], 0L);
            for (var i = -5; i < requests; i++)
            {
                var began = Stopwatch.GetTimestamp();
                using var response = await http.GetAsync(new Uri(path(), UriKind.Relative));
                var body = await response.EnsureSuccessStatusCode().Content.ReadAsByteArrayAsync();
                if (i < 0)
                    continue;
                times[i] = Stopwatch.GetElapsedTime(began).TotalMilliseconds;
                bytes += body.Length;
            }

            Array.Sort(times);
            await output.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"| {title} | {times[requests / 2]:0.0} | {times[(int)(requests * 0.99)]:0.0} | {bytes / 1e3 / requests:0} |"));
        }
    }

    private static async Task<string> DeepAsync(HttpClient http, DateTimeOffset middle)
    {
        using var page = JsonDocument.Parse(await http.GetStringAsync(new Uri($"cycles?limit=1&to={middle.UtcDateTime:yyyy-MM-ddTHH:mm:ssZ}", UriKind.Relative)));
        return page.RootElement.GetProperty("next").GetString()!;
    }

    private static ApiContext Context(HistoryDatabase database, string folder) => new()
    {
        Options = new GatewayOptions
        {
            Site = "Riverbend",
            Gateway = "benchmark",
            DataFolder = folder,
            Saws = [.. Enumerable.Range(0, Saws).Select(i => new SawOptions { Machine = new SawMachine { Name = LargeHistory.Saw(i) }, Source = new ModbusSourceOptions { Device = "d", Unit = 1, Signals = [] }, Interval = TimeSpan.FromMilliseconds(100) })],
            TimeZone = TimeZoneInfo.Utc,
            Calendar = new CalendarOptions(new ShiftCalendar(new CalendarPlan { Zone = TimeZoneInfo.Utc, Shifts = [new WeeklyShift("early", Enum.GetValues<DayOfWeek>().ToHashSet(), new TimeOnly(6, 0), new TimeOnly(14, 0), [])] }), new OeeSettings()),
            Http = new HttpOptions { Listen = new Uri("http://127.0.0.1:0") },
        },
        Reader = new HistoryReader(database),
        Writer = new HistoryWriter(database, TimeProvider.System, NullLogger<HistoryWriter>.Instance),
        Time = TimeProvider.System,
        Machine = new Stopped(),
        Loggers = NullLoggerFactory.Instance,
    };

    // The machine clock stands where the history ends.
    private sealed class Stopped : TimeProvider
    {
        public override DateTimeOffset GetUtcNow() => End;
    }
}
