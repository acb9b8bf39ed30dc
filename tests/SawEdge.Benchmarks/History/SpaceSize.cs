using System.Diagnostics;
using System.Globalization;
using Microsoft.Data.Sqlite;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Benchmarks.Score;
using SawEdge.Core;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Hosting;
using SawEdge.Gateway.Processing;
using SawEdge.TestSupport;

namespace SawEdge.Benchmarks.History;

/// <summary>What a cycle takes on the disk, table by table, and how long clearing old ones away and giving room back hold others up.</summary>
internal static class SpaceSize
{
    private const int Distinct = 1250;

    // Tables with their indexes, by pages, in the words of the documentation.
    private static readonly (string What, string[] Tables)[] Kinds =
    [
        ("record, with its indexes and place in the journal", ["cycles", "journal", "account_changes"]),
        ("what the load score says", ["assessments"]),
        ("depth profile", ["profiles"]),
        ("what the record can be computed anew from", ["evidence"]),
    ];

    public static async Task RunAsync(int cycles, TextWriter output)
    {
        var saw = new VirtualCuts(jobs: 8);
        var setup = new SawSetup(saw.Machine, null, new LoadSettings(), MaterialCatalogue.BuiltIn);
        using var folder = new TempFolder();
        using var database = HistoryDatabase.Open(folder.Path);
        var writer = new HistoryWriter(database, TimeProvider.System, NullLogger<HistoryWriter>.Instance);
        var run = writer.RunAsync(CancellationToken.None);
        var reader = new HistoryReader(database);
        var empty = Kinds.Select(kind => Bytes(database, kind.Tables)).ToList();
        await StoreAsync(writer, setup, saw.Evidence(Distinct + 10), cycles);

        await output.WriteLineAsync(Said($"{cycles:N0} cycles of one saw, bytes a cycle by the pages they take:"));
        for (var i = 0; i < Kinds.Length; i++)
            await output.WriteLineAsync(Said($"  {Kinds[i].What,-52} {(double)(Bytes(database, Kinds[i].Tables) - empty[i]) / cycles,8:N0}"));
        var checkpoints = HistoryRows(database, "SELECT count(*) FROM load_checkpoints");
        await output.WriteLineAsync(Said($"  {checkpoints:N0} checkpoints of {(double)Bytes(database, ["load_checkpoints"]) / checkpoints:N0} bytes each, {CheckpointThinning.Most} a saw at most"));

        var before = await reader.SpaceAsync();
        var (bites, gone) = (new List<double>(), 0);
        while (await reader.OldestDetailsAsync(DateTimeOffset.MaxValue) is { } block)
        {
            while (true)
            {
                var start = Stopwatch.GetTimestamp();
                var some = await writer.ClearDetailsAsync(block, HistoryKeeping.Cycles, CancellationToken.None);
                if (some == 0)
                    break;
                bites.Add(Stopwatch.GetElapsedTime(start).TotalMilliseconds);
                gone += some;
            }
        }

        await output.WriteLineAsync(Said($"details of {gone:N0} cycles cleared away in {bites.Count:N0} bites of {HistoryKeeping.Cycles}: {Of(bites)}"));
        bites.Clear();
        while (true)
        {
            var start = Stopwatch.GetTimestamp();
            if (await writer.GiveBackAsync(HistoryKeeping.Pages, CancellationToken.None) == 0)
                break;
            bites.Add(Stopwatch.GetElapsedTime(start).TotalMilliseconds);
        }

        var after = await reader.SpaceAsync();
        await output.WriteLineAsync(Said($"{before.Bytes / 1e6:N1} MB are {after.Bytes / 1e6:N1} now, given back in {bites.Count:N0} bites of {HistoryKeeping.Pages} pages: {Of(bites)}"));
        writer.Complete();
        await run;
    }

    private static async Task StoreAsync(HistoryWriter writer, SawSetup setup, List<CutEvidence> few, int cycles)
    {
        var (recorder, storage, next) = (setup.NewRecorder(), new CutStorage(null), few[0].Cut.StartedAt);
        var waiting = new List<FinishedCycle>();
        for (var i = 0; i < cycles; i++)
        {
            var evidence = few[i % Distinct];
            evidence = VirtualCuts.Shifted(evidence, next - evidence.Cut.StartedAt);
            next = evidence.Cut.EndedAt.AddSeconds(30);
            waiting.AddRange(storage.Rows(recorder.Take(evidence), recorder));
            if (waiting.Count < 50 && i < cycles - 1)
                continue;
            await writer.AppendAsync([.. waiting], CancellationToken.None);
            waiting.Clear();
        }
    }

    // dbstat counts the pages of a table or index, and an index is counted with its table; the SQLite that the gateway brings along is built without it.
    private static long Bytes(HistoryDatabase database, IEnumerable<string> tables)
    {
        var sql = $"SELECT ifnull(sum(pgsize), 0) FROM dbstat JOIN sqlite_schema AS s USING(name) WHERE s.tbl_name IN ({string.Join(", ", tables.Select(table => $"'{table}'"))})";
        using var process = Process.Start(new ProcessStartInfo("sqlite3") { ArgumentList = { "-readonly", database.FilePath, sql }, RedirectStandardOutput = true })!;
        var bytes = process.StandardOutput.ReadToEnd();
        process.WaitForExit();
        return long.Parse(bytes, CultureInfo.InvariantCulture);
    }

    private static long HistoryRows(HistoryDatabase database, string sql)
    {
        using var connection = new SqliteConnection($"Data Source={database.FilePath};Mode=ReadOnly;Pooling=False");
        connection.Open();
        return HistorySchema.Number(connection, sql);
    }

    private static string Of(List<double> times)
    {
        times.Sort();
        return times.Count == 0 ? "none" : Said($"{times[times.Count / 2]:0.0} ms p50, {times[(int)(0.99 * (times.Count - 1))]:0.0} ms p99, {times[^1]:0.0} ms at most");
    }

    private static string Said(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
