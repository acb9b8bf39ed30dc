using System.Diagnostics;
using System.Globalization;
using System.Text.Json;
using SawEdge.Core;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.Benchmarks.Export;

/// <summary>All cycles of a large history to a file, beside other programs that write the same rows of the same file, taking turns. Each side is a process of its own.</summary>
internal static class ExportSpeed
{
    private const int Rounds = 5;

    /// <summary>What a process reports that exports once.</summary>
    /// <param name="Rows">Rows written.</param>
    /// <param name="Seconds">From the opening of the history to the file on the disk.</param>
    /// <param name="PeakMegabytes">Greatest memory of the process (VmHWM).</param>
    internal sealed record Run(long Rows, double Seconds, double PeakMegabytes);

    /// <summary>Measures and prints a table.</summary>
    /// <param name="folder">Where the history is, as <c>api</c> leaves it.</param>
    /// <param name="output">Where to print.</param>
    public static async Task RunAsync(string folder, TextWriter output)
    {
        // One that an earlier version wrote is brought up to date, as a gateway does it.
        HistoryDatabase.Open(folder).Dispose();
        using var temporary = new TempFolder();
        await output.WriteLineAsync("| what | rows/s | MB | peak memory, MB | beside | ratio |");
        await output.WriteLineAsync("|---|---|---|---|---|---|");
        await CompareAsync("cycles", TableFormat.Csv, ("sqlite3 -csv", file => Sqlite(folder, file)));
        await CompareAsync("cycles", TableFormat.JsonLines, null);
        await CompareAsync("states", TableFormat.Csv, null);

        async Task CompareAsync(string table, TableFormat format, (string Name, Func<string, Task> Write)? other)
        {
            var (own, others) = (new List<Run>(), new List<double>());
            var file = temporary.File("own");
            for (var round = -1; round < Rounds; round++)
            {
                var run = await OnceAsync(folder, table, format, file);
                if (round >= 0)
                    own.Add(run);
                if (other is not { } beside)
                    continue;
                var began = Stopwatch.GetTimestamp();
                await beside.Write(temporary.File("other"));
                if (round >= 0)
                    others.Add(Stopwatch.GetElapsedTime(began).TotalSeconds);
            }

            var seconds = Median(own.Select(run => run.Seconds));
            var ratio = other is { } o ? string.Create(CultureInfo.InvariantCulture, $"{o.Name} | {seconds / Median(others):0.00}") : "|";
            await output.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"| {table}, {format} | {own[0].Rows / seconds:0} | {new FileInfo(file).Length / 1e6:0} | {own.Max(run => run.PeakMegabytes):0} | {ratio} |"));
        }
    }

    /// <summary>Exports once and prints a <see cref="Run"/>: what the processes of <see cref="RunAsync"/> do.</summary>
    public static async Task OnceAsync(string[] arguments, TextWriter output)
    {
        var began = Stopwatch.GetTimestamp();
        var question = new ExportQuestion { Table = ExportTables.Find(arguments[1])! };
        var style = new TableStyle { Format = Enum.Parse<TableFormat>(arguments[2]) };
        var rows = await ExportRun.ToFileAsync(ExportSources.Open(HistoryReader.OpenFolder(arguments[0]), question), style, arguments[3], null, CancellationToken.None);
        var seconds = Stopwatch.GetElapsedTime(began).TotalSeconds;
        var peak = (await File.ReadAllLinesAsync("/proc/self/status")).First(line => line.StartsWith("VmHWM:", StringComparison.Ordinal));
        await output.WriteLineAsync(JsonSerializer.Serialize(new Run(rows, seconds, double.Parse(peak.Split(' ', StringSplitOptions.RemoveEmptyEntries)[^2], CultureInfo.InvariantCulture) / 1000)));
    }

    private static async Task<Run> OnceAsync(string folder, string table, TableFormat format, string file)
    {
        var (exit, output) = await Peer.RunAsync("dotnet", [typeof(ExportSpeed).Assembly.Location, "export-once", folder, table, format.ToString(), file]);
        return exit == 0 ? JsonSerializer.Deserialize<Run>(output)! : throw new InvalidOperationException(output);
    }

    // Its times are plain numbers, which is less work; the order is the export's.
    private static async Task Sqlite(string folder, string file)
    {
        var columns = string.Join(", ", CycleColumns.All.Select(column => column.Name));
        var (exit, output) = await Peer.RunAsync(
            "sqlite3",
            ["-readonly", "-csv", "-header", "-cmd", $".output '{file}'", Path.Combine(folder, HistoryDatabase.FileName), $"SELECT {columns} FROM cycles ORDER BY started_at, saw, cycle_id"]);
        if (exit != 0)
            throw new InvalidOperationException(output);
    }

    private static double Median(IEnumerable<double> values) => values.Order().ToList() is var sorted ? sorted[sorted.Count / 2] : 0;
}
