using System.Diagnostics;
using System.Globalization;
using System.Text.Json.Nodes;
using SawEdge.Benchmarks.Load;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.Benchmarks.History;

/// <summary>
/// How long a published program takes from the start of its process until the first frame of a Modbus saw lies in its recording on the disk, as on a
/// fresh machine: no history, page and API switched on. Several programs take turns, so that a busy machine treats them alike.
/// </summary>
internal static class FirstFrame
{
    /// <summary>Measures and prints a table.</summary>
    /// <param name="programs">Published programs, or assemblies, which run under <c>dotnet</c>; empty: the one beside this.</param>
    /// <param name="times">How often each is started.</param>
    /// <param name="output">Where to print.</param>
    public static async Task RunAsync(IReadOnlyList<string> programs, int times, TextWriter output)
    {
        if (programs.Count == 0)
            programs = [Path.Combine(AppContext.BaseDirectory, "sawedge.dll")];
        var template = Plant.Create(TimeProvider.System.GetUtcNow(), withFaults: false).Saws[0];
        await using var device = ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit> { [1] = new(new LiveSaw(new VirtualSaw(template.Options), TimeProvider.System), RegisterLayout.Plain) });
        var starts = programs.ToDictionary(program => program, _ => new List<(double Wall, double Processor)>());
        for (var i = 0; i < times; i++)
        {
            foreach (var program in programs)
                starts[program].Add(await StartAsync(Path.GetFullPath(program), device.Port));
        }

        await output.WriteLineAsync("| program | MB on the disk | first frame recorded, s: best / median | processor time until then, s: best / median |");
        await output.WriteLineAsync("|---|---|---|---|");
        foreach (var (program, all) in starts)
        {
            var (wall, processor) = (all.Select(one => one.Wall).Order().ToList(), all.Select(one => one.Processor).Order().ToList());
            var size = new DirectoryInfo(Path.GetDirectoryName(Path.GetFullPath(program))!).EnumerateFiles("*", SearchOption.AllDirectories).Sum(file => file.Length);
            await output.WriteLineAsync(string.Create(
                CultureInfo.InvariantCulture,
                $"| {program} | {size / 1e6:0} | {wall[0]:0.00} / {wall[wall.Count / 2]:0.00} | {processor[0]:0.0} / {processor[processor.Count / 2]:0.0} |"));
        }
    }

    private static async Task<(double Wall, double Processor)> StartAsync(string program, int saw)
    {
        using var folder = new TempFolder();
        var configuration = folder.File("sawedge.json");
        await File.WriteAllTextAsync(configuration, Configuration(saw, Peer.FreePort()));
        string[] command = program.EndsWith(".dll", StringComparison.Ordinal) ? ["dotnet", program] : [program];
        var began = Stopwatch.GetTimestamp();
        await using var gateway = Peer.Start(command[0], [.. command[1..], "run", configuration, "--level", "Warning"]);
        using var process = Process.GetProcessById(gateway.Id);
        await Until.TrueAsync(() => gateway.HasExited ? throw new InvalidOperationException(gateway.Output) : HoldsFrame(folder.File("recordings")), "a frame is recorded", TimeSpan.FromMinutes(2));
        var wall = Stopwatch.GetElapsedTime(began).TotalSeconds;
        process.Refresh();
        var processor = process.TotalProcessorTime.TotalSeconds;
        await gateway.SignalAsync("TERM");
        await gateway.ExitsAsync(TimeSpan.FromMinutes(2));
        return (wall, processor);
    }

    private static bool HoldsFrame(string folder)
    {
        if (!Directory.Exists(folder))
            return false;
        foreach (var file in Directory.GetFiles(folder, "*.csv"))
        {
            using var reader = new StreamReader(new FileStream(file, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete));
            if (reader.ReadLine() is not null && reader.ReadLine() is not null)
                return true;
        }

        return false;
    }

    private static string Configuration(int saw, int port) => new JsonObject
    {
        ["site"] = "Riverbend",
        ["gateway"] = "start",
        ["dataFolder"] = "data",
        ["http"] = new JsonObject { ["listen"] = $"http://127.0.0.1:{port}" },
        ["record"] = new JsonObject { ["folder"] = "recordings" },
        ["devices"] = new JsonArray(new JsonObject { ["name"] = "plc", ["host"] = "127.0.0.1", ["port"] = saw }),
        ["saws"] = new JsonArray(new JsonObject { ["name"] = "saw-1", ["source"] = "modbus", ["device"] = "plc", ["unit"] = 1, ["interval"] = "100 ms", ["signals"] = GatewayLoad.Signals() }),
    }.ToJsonString();
}
