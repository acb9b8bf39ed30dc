using System.Diagnostics;
using System.Globalization;
using System.Text.Json;
using SawEdge.TestSupport;

namespace SawEdge.Benchmarks.Api;

/// <summary>Requests to the API over real connections, one after the other, before a history of a million cycles of 50 saws.</summary>
internal static class ApiSpeed
{
    private const int Requests = 300;

    /// <summary>Measures and prints a table.</summary>
    /// <param name="cycles">Cycles in the history.</param>
    /// <param name="folder">Where the history is or will be; null: one that is removed again.</param>
    /// <param name="output">Where to print.</param>
    public static async Task RunAsync(int cycles, string? folder, TextWriter output)
    {
        using var temporary = new TempFolder();
        await using var server = await LargeServer.StartAsync(cycles, folder ?? temporary.Path, 0, output);
        using var http = new HttpClient { BaseAddress = new Uri(server.Address, "/api/v1/") };

        var (each, end) = (cycles / LargeServer.Saws, LargeServer.End);
        var random = new Random(1);
        string Any() => Uri.EscapeDataString(LargeHistory.Saw(random.Next(LargeServer.Saws)));
        string Within(int days)
        {
            var from = end - (LargeHistory.Distance * random.Next(each / 10, each)) - TimeSpan.FromDays(1);
            return $"from={from.UtcDateTime:yyyy-MM-ddTHH:mm:ssZ}&to={from.AddDays(days).UtcDateTime:yyyy-MM-ddTHH:mm:ssZ}";
        }

        string Shift()
        {
            var day = end.Date - TimeSpan.FromDays(random.Next(1, (int)(each * LargeHistory.Distance / TimeSpan.FromDays(1))));
            return $"from={day:yyyy-MM-dd}T06:00:00Z&to={day:yyyy-MM-dd}T14:00:00Z";
        }

        await output.WriteLineAsync("| request | p50, ms | p99, ms | kB |");
        await output.WriteLineAsync("|---|---|---|---|");
        await MeasureAsync("/saws, figures of the shift known", () => "saws");
        await MeasureAsync("/saws/{name}", () => $"saws/{Any()}");
        await MeasureAsync("/cycles, the latest 100", () => "cycles?limit=100");
        await MeasureAsync("/cycles of a saw, 100", () => $"cycles?limit=100&saw={Any()}");
        await MeasureAsync("/cycles of a saw on some day, 100", () => $"cycles?limit=100&saw={Any()}&{Within(1)}");
        var cursor = await DeepAsync(http, end - (each / 2 * LargeHistory.Distance));
        await MeasureAsync("/cycles, 100 from a cursor in the middle", () => $"cycles?limit=100&cursor={cursor}");
        await MeasureAsync("/cycles of one job of a saw, 100", () => FormattableString.Invariant($"cycles?limit=100&saw={Uri.EscapeDataString(LargeHistory.Saw(7))}&job=order%20{random.Next(Math.Max(1, each / 50))}-7"));
        await MeasureAsync("/cycles of one job anywhere, 100", () => FormattableString.Invariant($"cycles?limit=100&job=order%20{random.Next(Math.Max(1, each / 50))}-7"), 20);
        await MeasureAsync("/cycles/{id}, everything stored", () => $"cycles/{Uri.EscapeDataString(LargeHistory.CycleId(random.Next(LargeServer.Saws), random.Next(each / LargeHistory.WholeEvery) * LargeHistory.WholeEvery))}");

        await MeasureAsync("/timeline of a saw, a shift", () => $"timeline?saw={Any()}&{Shift()}");
        await MeasureAsync("/oee of a saw, a week by day", () => $"oee?saw={Any()}&by=saw&each=day&{Within(7)}");
        await MeasureAsync("/oee of all saws, a shift", () => $"oee?by=saw&each=whole&{Shift()}", 50);
        await MeasureAsync("/oee of all saws, a week by day", () => $"oee?by=saw&each=day&{Within(7)}", 20);

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
}
