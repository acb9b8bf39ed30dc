using System.Diagnostics;
using System.Globalization;
using Microsoft.Data.Sqlite;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.Benchmarks.History;

/// <summary>
/// Finished cycles to the disk with full durability, beside bare SQLite on the same disk: the same rows (record, profile,
/// journal entry, state) inserted by a plain loop with prepared commands, without queue, comparison or correction.
/// </summary>
public static class HistoryBenchmark
{
    private const int Rounds = 3;

    /// <summary>Measures and prints a table.</summary>
    public static async Task RunAsync(TextWriter output, CancellationToken cancellation = default)
    {
        await output.WriteLineAsync("| finished cycles to disk, synchronous=FULL | gateway, 1/s | bare SQLite, 1/s | ratio |");
        await output.WriteLineAsync("|---|---|---|---|");
        foreach (var (title, together, count) in new[] { ("one at a time", 1, 4000), ("20 saws at once", 20, 20_000), ("500 at once (a replay)", 500, 50_000) })
        {
            double ours = 0, bare = 0;
            for (var round = 0; round < Rounds; round++)
            {
                // Side by side, the better round of each: other work on the machine hits both.
                ours = Math.Max(ours, await GatewayAsync(count, together, cancellation));
                bare = Math.Max(bare, Bare(count, together));
            }

            await output.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"| {title} | {ours:N0} | {bare:N0} | {ours / bare:0.00} |"));
        }
    }

    private static async Task<double> GatewayAsync(int count, int together, CancellationToken cancellation)
    {
        using var folder = new TempFolder();
        using var database = HistoryDatabase.Open(folder.Path);
        var writer = new HistoryWriter(database, TimeProvider.System, NullLogger<HistoryWriter>.Instance);
        var run = writer.RunAsync(cancellation);
        var cycles = Enumerable.Range(0, together).Select(saw => Enumerable.Range(0, count / together).Select(i => SampleCycles.Make($"saw{saw}", i)).ToArray()).ToArray();

        var started = Stopwatch.GetTimestamp();
        await Task.WhenAll(cycles.Select(async own =>
        {
            foreach (var cycle in own)
                await writer.AppendAsync(cycle, cancellation);
        }));
        var elapsed = Stopwatch.GetElapsedTime(started);

        writer.Complete();
        await run;
        return count / elapsed.TotalSeconds;
    }

    private static double Bare(int count, int together)
    {
        using var folder = new TempFolder();
        using var database = HistoryDatabase.Open(folder.Path);
        using var connection = database.OpenForWriting();
        var names = CycleColumns.All.Select(column => column.Name).ToList();
        using var cycle = Command(connection, $"INSERT INTO cycles({string.Join(", ", names)}) VALUES({string.Join(", ", names.Select(name => "@" + name))})", [.. names]);
        using var profile = Command(connection, "INSERT INTO profiles(cycle, data) VALUES(last_insert_rowid(), @data)", "data");
        using var journal = Command(connection, "INSERT INTO journal(kind, saw, item, at) VALUES('cycle', @saw, @item, 0)", "saw", "item");
        using var state = Command(connection, "INSERT OR REPLACE INTO saw_state(saw, version, data, updated) VALUES(@saw, 1, @data, 0)", "saw", "data");
        var cycles = Enumerable.Range(0, count).Select(i => SampleCycles.Make($"saw{i % together}", i)).ToArray();
        var profileData = ProfileCodec.Encode(SampleCycles.Profile);
        var stateData = new byte[SampleCycles.StateBytes];

        var started = Stopwatch.GetTimestamp();
        for (var i = 0; i < count; i += together)
        {
            using var transaction = connection.BeginTransaction();
            cycle.Transaction = profile.Transaction = journal.Transaction = state.Transaction = transaction;
            for (var j = i; j < i + together; j++)
            {
                var record = cycles[j].Record;
                for (var k = 0; k < names.Count; k++)
                {
                    cycle.Parameters[k].Value = CycleColumns.All[k].Get(record) switch
                    {
                        null or "" => DBNull.Value,
                        DateTimeOffset time => time.ToUnixTimeMilliseconds(),
                        var value => value,
                    };
                }

                cycle.ExecuteNonQuery();
                profile.Parameters[0].Value = profileData;
                profile.ExecuteNonQuery();
                journal.Parameters[0].Value = record.Saw;
                journal.Parameters[1].Value = j;
                journal.ExecuteNonQuery();
                state.Parameters[0].Value = record.Saw;
                state.Parameters[1].Value = stateData;
                state.ExecuteNonQuery();
            }

            transaction.Commit();
        }

        return count / Stopwatch.GetElapsedTime(started).TotalSeconds;
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
