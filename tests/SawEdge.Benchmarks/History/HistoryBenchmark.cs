using System.Diagnostics;
using System.Globalization;
using Microsoft.Data.Sqlite;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.Benchmarks.History;

/// <summary>
/// Finished cycles and downsampled signals to the disk with full durability, beside bare SQLite on the same disk: the same rows (record, profile,
/// evidence, assessment, journal entry, state; a sample) inserted by a plain loop with prepared commands, encoded beforehand, without queue, comparison or correction.
/// </summary>
public static class HistoryBenchmark
{
    private const int Rounds = 6;

    private static readonly (string Title, int Together, int Count)[] Cases = [("cycles, one at a time", 1, 500), ("cycles, 20 saws at once", 20, 4000), ("cycles, 500 at once (a replay)", 500, 5000)];

    /// <summary>Measures and prints a table.</summary>
    public static async Task RunAsync(TextWriter output, CancellationToken cancellation = default)
    {
        var made = new WholeCycles();
        await output.WriteLineAsync("| to the disk, synchronous=FULL | gateway, 1/s | bare SQLite, 1/s | ratio | ratio of processor time |");
        await output.WriteLineAsync("|---|---|---|---|---|");
        foreach (var (title, together, count) in Cases)
        {
            var cycles = Enumerable.Range(0, together).Select(saw => Enumerable.Range(0, count / together).Select(i => made.Make($"saw{saw}", i)).ToArray()).ToArray();
            await CompareAsync(output, title, count, () => GatewayAsync(cycles, (writer, cycle) => writer.AppendAsync(cycle, cancellation), cancellation), () => BareCycles(cycles));
        }

        var samples = Enumerable.Range(0, 50).Select(saw => Enumerable.Range(0, 400).Select(i => made.Sample($"saw{saw}", i)).ToArray()).ToArray();
        await CompareAsync(output, "signals of 10 s, 50 saws at once", 50 * 400, () => GatewayAsync(samples, (writer, sample) => writer.SaveSamplesAsync([sample], cancellation), cancellation), () => BareSamples(samples));
    }

    // In turns, each as often first as second, because what the one deletes the disk still has to do when the other begins; and the middle round.
    private static async Task CompareAsync(TextWriter output, string title, int count, Func<Task<(double Seconds, double Processor)>> gateway, Func<(double Seconds, double Processor)> bare)
    {
        var rounds = new List<((double Seconds, double Processor) Ours, (double Seconds, double Processor) Bare)>();
        for (var round = 0; round < Rounds; round++)
        {
            var first = round % 2 == 0 ? default : bare();
            var ours = await gateway();
            rounds.Add((ours, round % 2 == 0 ? bare() : first));
        }

        double Middle(Func<((double Seconds, double Processor) Ours, (double Seconds, double Processor) Bare), double> of) => rounds.Select(of).Order().ElementAt(Rounds / 2);
        await output.WriteLineAsync(string.Create(
            CultureInfo.InvariantCulture,
            $"| {title} | {count / Middle(one => one.Ours.Seconds):N0} | {count / Middle(one => one.Bare.Seconds):N0} | {Middle(one => one.Bare.Seconds / one.Ours.Seconds):0.00} | {Middle(one => one.Ours.Processor / one.Bare.Processor):0.0} |"));
    }

    // Each saw waits until what it gave is on the disk before it gives the next, as in operation.
    private static async Task<(double Seconds, double Processor)> GatewayAsync<T>(T[][] bySaw, Func<HistoryWriter, T, Task> store, CancellationToken cancellation)
    {
        using var folder = new TempFolder();
        using var database = HistoryDatabase.Open(folder.Path);
        var writer = new HistoryWriter(database, TimeProvider.System, NullLogger<HistoryWriter>.Instance);
        var run = writer.RunAsync(cancellation);
        using var process = Process.GetCurrentProcess();
        var (started, processor) = (Stopwatch.GetTimestamp(), process.TotalProcessorTime);
        await Task.WhenAll(bySaw.Select(own => Task.Run(
            async () =>
            {
                foreach (var one in own)
                    await store(writer, one);
            },
            cancellation)));
        var elapsed = Stopwatch.GetElapsedTime(started).TotalSeconds;
        process.Refresh();
        var used = (process.TotalProcessorTime - processor).TotalSeconds;
        writer.Complete();
        await run;
        return (elapsed, used);
    }

    private static (double Seconds, double Processor) BareCycles(FinishedCycle[][] bySaw)
    {
        using var folder = new TempFolder();
        using var database = HistoryDatabase.Open(folder.Path);
        using var connection = database.OpenForWriting();
        var names = CycleColumns.All.Select(column => column.Name).ToList();
        using var cycle = Command(connection, $"INSERT INTO cycles({string.Join(", ", names)}) VALUES({string.Join(", ", names.Select(name => "@" + name))})", [.. names]);
        using var profile = Command(connection, "INSERT INTO profiles(cycle, data) VALUES(@item, @data)", "item", "data");
        using var evidence = Command(connection, "INSERT INTO evidence(cycle, data) VALUES(@item, @data)", "item", "data");
        using var assessment = Command(connection, "INSERT INTO assessments(cycle, score, accepted, why, data) VALUES(@item, 0.5, 1, '', @data)", "item", "data");
        using var journal = Command(connection, "INSERT INTO journal(kind, saw, item, at) VALUES('cycle', @saw, @item, 0)", "saw", "item");
        using var state = Command(connection, "INSERT OR REPLACE INTO saw_state(saw, version, data, updated) VALUES(@saw, 1, @data, 0)", "saw", "data");
        var rows = bySaw.Select(own => own.Select(one => (
            one.Record,
            Cells: CycleColumns.All.Select(column => column.Get(one.Record) switch
            {
                null or "" => DBNull.Value,
                DateTimeOffset time => time.ToUnixTimeMilliseconds(),
                var value => value,
            }).ToArray(),
            Profile: ProfileCodec.Encode(one.Profile!),
            Evidence: EvidenceCodec.Encode(one.Evidence!, ""),
            Assessment: AssessmentCodec.Encode(one.Assessment!),
            State: one.SawState!.Value.Data.ToArray())).ToArray()).ToArray();
        var item = 0L;
        return Measure(connection, bySaw[0].Length, i =>
        {
            foreach (var own in rows)
            {
                var row = own[i];
                item++;
                Run(cycle, row.Cells);
                Run(profile, item, row.Profile);
                Run(evidence, item, row.Evidence);
                Run(assessment, item, row.Assessment);
                Run(journal, row.Record.Saw, item);
                Run(state, row.Record.Saw, row.State);
            }
        });
    }

    private static (double Seconds, double Processor) BareSamples(SawSample[][] bySaw)
    {
        using var folder = new TempFolder();
        using var database = HistoryDatabase.Open(folder.Path);
        using var connection = database.OpenForWriting();
        using var insert = Command(connection, "INSERT INTO signal_samples(at, saw, every_ms, frames, data) VALUES(@at, @saw, 10000, 100, @data)", "at", "saw", "data");
        var data = bySaw.Select(own => own.Select(one => SampleCodec.Encode(one.Sample)).ToArray()).ToArray();
        return Measure(connection, bySaw[0].Length, i =>
        {
            for (var saw = 0; saw < bySaw.Length; saw++)
                Run(insert, bySaw[saw][i].Sample.From.ToUnixTimeMilliseconds(), bySaw[saw][i].Saw, data[saw][i]);
        });
    }

    private static (double Seconds, double Processor) Measure(SqliteConnection connection, int transactions, Action<int> insert)
    {
        using var process = Process.GetCurrentProcess();
        var (started, processor) = (Stopwatch.GetTimestamp(), process.TotalProcessorTime);
        for (var i = 0; i < transactions; i++)
        {
            HistorySchema.Execute(connection, null, "BEGIN IMMEDIATE");
            insert(i);
            HistorySchema.Execute(connection, null, "COMMIT");
        }

        var elapsed = Stopwatch.GetElapsedTime(started).TotalSeconds;
        process.Refresh();
        return (elapsed, (process.TotalProcessorTime - processor).TotalSeconds);
    }

    private static void Run(SqliteCommand command, params object[] values)
    {
        for (var i = 0; i < values.Length; i++)
            command.Parameters[i].Value = values[i];
        command.ExecuteNonQuery();
    }

    private static SqliteCommand Command(SqliteConnection connection, string sql, params string[] parameters)
    {
        var command = connection.CreateCommand();
        command.CommandText = sql;
        foreach (var name in parameters)
            command.Parameters.Add(new SqliteParameter { ParameterName = "@" + name });
        return command;
    }
}
