using System.Diagnostics;
using System.Globalization;
using System.Text.Json.Nodes;
using SawEdge.Benchmarks.Api;
using SawEdge.Benchmarks.Load;
using SawEdge.Gateway.History;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.Benchmarks.History;

/// <summary>
/// How long the program takes from the start of its process until it says that it is ready, and until a frame of each of 50 saws lies in its recording:
/// with an empty history, and with one of a million cycles. In both there is a destination that nobody answers for, so that everything is still to be delivered.
/// </summary>
internal static class StartBenchmark
{
    private const int UnitsPerDevice = 10;

    private static readonly TimeSpan Patience = TimeSpan.FromMinutes(10);

    // How the run before ended, and after how many of such starts the middle one is told.
    private static readonly (string Title, bool IsKilled, int Times)[] Ends = [("for the first time", false, 1), ("after an orderly end", false, 3), ("after kill -9", true, 3)];

    /// <summary>Measures and prints a table.</summary>
    /// <param name="cycles">Cycles of the large history.</param>
    /// <param name="large">Its folder; it is written where it is not there yet, and only ever copied.</param>
    /// <param name="output">Where to print.</param>
    public static async Task RunAsync(int cycles, string large, TextWriter output)
    {
        await LargeServer.WriteAsync(large, cycles, output);
        var template = Plant.Create(TimeProvider.System.GetUtcNow(), withFaults: false).Saws[0];
        var saws = Enumerable.Range(0, LargeServer.Saws).Select(n => new LiveSaw(
            new VirtualSaw(template.Options with { Machine = template.Options.Machine with { Name = LargeHistory.Saw(n) }, Seed = (ulong)n + 1 }), TimeProvider.System)).ToArray();
        var devices = saws.Chunk(UnitsPerDevice)
            .Select(chunk => ModbusTcpServer.Start(chunk.Index().ToDictionary(pair => (byte)(pair.Index + 1), pair => new ModbusUnit(pair.Item, RegisterLayout.Plain))))
            .ToArray();
        await output.WriteLineAsync("| cycles in the history | started | ready, s | a frame of each of 50 saws is recorded, s | processor time until then, s |");
        await output.WriteLineAsync("|---|---|---|---|---|");
        foreach (var source in new[] { null, large })
        {
            using var folder = new TempFolder();
            Directory.CreateDirectory(folder.File("data"));
            if (source is not null)
                File.Copy(Path.Combine(source, HistoryDatabase.FileName), Path.Combine(folder.File("data"), HistoryDatabase.FileName));
            var port = Peer.FreePort();
            var configuration = folder.File("sawedge.json");
            await File.WriteAllTextAsync(configuration, Configuration(saws, devices, port));
            foreach (var (title, isKilled, times) in Ends)
            {
                var starts = new List<Figures>();
                for (var i = 0; i <= times; i++)
                {
                    // The first of them leaves behind what the next begin with.
                    var figures = await StartAsync(folder, configuration, port, isKilled);
                    if (i > 0 || times == 1)
                        starts.Add(figures);
                    if (times == 1)
                        break;
                }

                Figures Middle(Func<Figures, double> by) => starts.OrderBy(by).ElementAt(starts.Count / 2);
                await output.WriteLineAsync(string.Create(
                    CultureInfo.InvariantCulture,
                    $"| {(source is null ? 0 : cycles):N0} | {title} | {Middle(one => one.Ready).Ready:0.00} | {Middle(one => one.Recorded).Recorded:0.00} | {Middle(one => one.Processor).Processor:0.0} |"));
            }
        }

        foreach (var device in devices)
            await device.DisposeAsync();
    }

    private sealed record Figures(double Ready, double Recorded, double Processor);

    private static async Task<Figures> StartAsync(TempFolder folder, string configuration, int port, bool isKilled)
    {
        var recordings = folder.File("recordings");
        if (Directory.Exists(recordings))
            Directory.Delete(recordings, recursive: true);
        using var http = new HttpClient { Timeout = TimeSpan.FromSeconds(5) };
        var began = Stopwatch.GetTimestamp();
        await using var gateway = Peer.Start(Peer.Find("dotnet")!, [Path.Combine(AppContext.BaseDirectory, "sawedge.dll"), "run", configuration, "--level", "Warning"]);
        using var process = Process.GetProcessById(gateway.Id);
        var ready = UntilAsync(() => IsReadyAsync(http, port));
        var recorded = UntilAsync(() => Task.FromResult(SawsIn(recordings) == LargeServer.Saws));
        await Task.WhenAll(ready, recorded);
        process.Refresh();
        var used = process.TotalProcessorTime.TotalSeconds;
        if (isKilled)
        {
            await gateway.KillAsync();
        }
        else
        {
            await gateway.SignalAsync("TERM");
            await gateway.ExitsAsync(Patience);
        }

        return new Figures(await ready, await recorded, used);

        async Task<double> UntilAsync(Func<Task<bool>> condition)
        {
            await Until.TrueAsync(async () => gateway.HasExited ? throw new InvalidOperationException(gateway.Output) : await condition(), "the gateway has started", Patience);
            return Stopwatch.GetElapsedTime(began).TotalSeconds;
        }
    }

    private static async Task<bool> IsReadyAsync(HttpClient http, int port)
    {
        try
        {
            using var answer = await http.GetAsync(new Uri($"http://127.0.0.1:{port}/health/ready"));
            return answer.IsSuccessStatusCode;
        }
        catch (HttpRequestException)
        {
            // Nobody listens yet.
            return false;
        }
    }

    private static int SawsIn(string folder)
    {
        if (!Directory.Exists(folder))
            return 0;
        var saws = new HashSet<string>(StringComparer.Ordinal);
        foreach (var file in Directory.GetFiles(folder, "*.csv"))
        {
            using var reader = new StreamReader(new FileStream(file, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete));
            var at = Array.IndexOf((reader.ReadLine() ?? "").Split(','), "saw");
            while (at >= 0 && reader.ReadLine() is { } line && line.Split(',') is var cells)
            {
                if (cells.Length > at)
                    saws.Add(cells[at]);
            }
        }

        return saws.Count;
    }

    private static string Configuration(LiveSaw[] saws, ModbusTcpServer[] devices, int port) => new JsonObject
    {
        ["site"] = "Riverbend",
        ["gateway"] = "start",
        ["dataFolder"] = "data",
        ["http"] = new JsonObject { ["listen"] = $"http://127.0.0.1:{port}" },
        ["record"] = new JsonObject { ["folder"] = "recordings" },
        ["influx"] = new JsonArray(new JsonObject { ["name"] = "away", ["version"] = "1", ["url"] = "http://127.0.0.1:1", ["database"] = "plant" }),
        ["devices"] = new JsonArray([.. devices.Index().Select(pair => new JsonObject { ["name"] = $"d{pair.Index}", ["host"] = "127.0.0.1", ["port"] = pair.Item.Port })]),
        ["saws"] = new JsonArray([.. saws.Index().Select(pair => new JsonObject
        {
            ["name"] = pair.Item.Name,
            ["source"] = "modbus",
            ["device"] = $"d{pair.Index / UnitsPerDevice}",
            ["unit"] = (pair.Index % UnitsPerDevice) + 1,
            ["interval"] = "100 ms",
            ["signals"] = GatewayLoad.Signals(),
        })]),
    }.ToJsonString();
}
