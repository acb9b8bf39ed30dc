using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Hosting;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Hosting;

public sealed class HistoryKeepingTests
{
    private static readonly DateTimeOffset Begin = new(2026, 3, 2, 5, 0, 0, TimeSpan.Zero);

    [Fact]
    public async Task Run_AsTimePasses_DeletesWhatIsTooOldAndNothingElse()
    {
        await using var history = new RunningHistory();
        await history.AppendAsync(Cycles.Make("Saw 1", 0));
        await StoreSamplesAsync(history, 3000, TimeSpan.FromSeconds(10));
        var time = new FakeTimeProvider(Begin.AddHours(2).AddSeconds(3));
        using var stop = new CancellationTokenSource();
        var running = Keeping(history, time).RunAsync(stop.Token);

        await Until.TrueAsync(async () => await CountAsync(history) == 3000 - 361, "an hour and what began is gone");
        time.Advance(TimeSpan.FromHours(5));
        await Until.TrueAsync(async () => await CountAsync(history) == 3000 - (6 * 360) - 1, "five more hours are gone");
        await stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => running);
        Assert.Equal(1, await history.Reader.CountAsync(CycleFilter.All));
        Assert.Empty(history.Log.Entries);
    }

    [Fact]
    public async Task Look_MuchToDelete_LetsOthersWriteInBetween()
    {
        await using var history = new RunningHistory();
        await StoreSamplesAsync(history, 40_000, TimeSpan.FromSeconds(1));
        var keeping = Keeping(history, new FakeTimeProvider(Begin.AddDays(2)));

        var looking = keeping.LookAsync(CancellationToken.None);
        await history.AppendAsync(Cycles.Make("Saw 1", 0));
        var left = await CountAsync(history);

        await looking;
        Assert.Equal(0, await CountAsync(history));
        Assert.True(left > 0, "the cycle waited until all was deleted");
    }

    [Fact]
    public async Task Run_AHistoryThatIsClosed_IsSaidOnce()
    {
        var history = new RunningHistory();
        await history.DisposeAsync();
        var time = new FakeTimeProvider(Begin);
        using var stop = new CancellationTokenSource();
        var running = Keeping(history, time).RunAsync(stop.Token);
        await Until.TrueAsync(() => history.Log.Entries.Count > 0, "it says so");
        time.Advance(TimeSpan.FromMinutes(1));
        time.Advance(TimeSpan.FromMinutes(1));
        await stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => running);

        Assert.Contains("nothing old can be cleared away at the moment", Assert.Single(history.Log.Entries).Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Look_BudgetReached_TheOldestSignalsGo_NothingElse_AndTheFileGetsSmaller()
    {
        await using var history = new RunningHistory();
        await StoreCyclesAsync(history, "Saw 1", 250, checkpoints: 50);
        await StoreSamplesAsync(history, 20_000, TimeSpan.FromSeconds(10));
        var (before, file) = (Rows(history), Size(history));
        var keeping = Keeping(history, new FakeTimeProvider(Begin.AddDays(3)), new HistoryOptions { BudgetBytes = file * 9 / 10 });

        await keeping.LookAsync(CancellationToken.None);

        Assert.Equal(before, Rows(history));
        var left = await CountAsync(history);
        Assert.InRange(left, 1, 19_999);
        Assert.Equal(Begin.AddSeconds(10 * (19_999 - left + 1)).ToUnixTimeMilliseconds(), history.Ask("SELECT min(at) FROM signal_samples"));
        Assert.InRange(Size(history), file * 0.9 * 0.95, file * 0.9 * HistoryKeeping.MadeRoom);
        Assert.InRange(keeping.Share, 0.95, HistoryKeeping.MadeRoom);
        var said = Assert.Single(history.Log.Entries);
        Assert.Equal(3530, said.Id);
        Assert.Contains($"the {20_000 - left} oldest samples of signals were cleared away, and the profiles of the 0 oldest cycles that had one; it takes", said.Text, StringComparison.Ordinal);
        Assert.Equal("ok", history.Ask("PRAGMA integrity_check"));

        // There is peace until the budget is reached again.
        await keeping.LookAsync(CancellationToken.None);
        Assert.Equal(left, await CountAsync(history));
    }

    [Fact]
    public async Task Look_SignalsAreNotEnough_TheOldestProfilesOfAnySawGoToo_UpToACheckpoint()
    {
        await using var history = new RunningHistory();
        await StoreCyclesAsync(history, "Saw 1", 400, checkpoints: 50);
        await StoreCyclesAsync(history, "Saw 2", 400, checkpoints: 70);
        await StoreSamplesAsync(history, 2000, TimeSpan.FromSeconds(10));
        var (before, file) = (Rows(history), Size(history));
        var samples = (long)history.Ask("SELECT sum(length(data) + 20) FROM signal_samples")!;
        var keeping = Keeping(history, new FakeTimeProvider(Begin.AddDays(3)), new HistoryOptions { BudgetBytes = file - samples - 300_000 });

        await keeping.LookAsync(CancellationToken.None);

        Assert.Equal(0, await CountAsync(history));
        var after = Rows(history);
        Assert.Equal((before.Cycles, before.Journal), (after.Cycles, after.Journal));
        Assert.Equal((after.Profiles, after.Profiles), (after.Evidence, after.Assessments));
        Assert.InRange(after.Profiles, 1, 799);
        foreach (var saw in (string[])["Saw 1", "Saw 2"])
        {
            // What is left begins behind a checkpoint, the first that is left, and has no hole.
            var first = (long)history.Ask($"SELECT min(at) FROM load_checkpoints WHERE saw = '{saw}'")!;
            Assert.Equal(0L, history.Ask($"SELECT count(*) FROM cycles AS c JOIN evidence AS e ON e.cycle = c.id WHERE saw = '{saw}' AND started_at <= {first}"));
            Assert.Equal(0L, history.Ask($"SELECT count(*) FROM cycles WHERE saw = '{saw}' AND started_at > {first} AND id NOT IN (SELECT cycle FROM evidence)"));
        }

        // No saw lost more than the other but for the places of its checkpoints: 50 and 70 cycles, one every two minutes.
        Assert.InRange(Math.Abs((long)history.Ask("SELECT max(at) - min(at) FROM (SELECT min(at) AS at FROM load_checkpoints GROUP BY saw)")!), 0, 70 * 120_000L);
        Assert.InRange(keeping.Share, 0.8, HistoryKeeping.MadeRoom);
        Assert.Equal([3530], history.Log.Entries.Select(entry => entry.Id));
    }

    [Fact]
    public async Task Look_NothingLeftThatMayGo_IsSaidOnce_RecordsAndTheLastProfilesAndSignalsStay()
    {
        await using var history = new RunningHistory();
        await StoreCyclesAsync(history, "Saw 1", 400, checkpoints: 50);
        await StoreSamplesAsync(history, 2000, TimeSpan.FromSeconds(36));
        var before = Rows(history);
        var time = new FakeTimeProvider(Begin.AddHours(20));
        var keeping = Keeping(history, time, new HistoryOptions { BudgetBytes = 100_000 });

        await keeping.LookAsync(CancellationToken.None);
        await keeping.LookAsync(CancellationToken.None);

        // Of signals the last hour, of profiles those since the last checkpoint but one: at cycle 350 of 400.
        Assert.Equal(before with { Profiles = 50, Evidence = 50, Assessments = 50 }, Rows(history));
        Assert.Equal(100, await CountAsync(history));
        Assert.True(keeping.Share > 1, "the records alone take more than the budget");
        Assert.Equal([3530, 3531], history.Log.Entries.Select(entry => entry.Id));
    }

    [Fact]
    public async Task Look_ProfilesTooOld_GoWithTheirEvidence_UpToTheLastCheckpointBefore()
    {
        await using var history = new RunningHistory();
        await StoreCyclesAsync(history, "Saw 1", 400, checkpoints: 50);
        var before = Rows(history);

        // Cycle 220 is a week old: the last checkpoint before it lies at cycle 200, the 199th counted from 0.
        var keeping = Keeping(history, new FakeTimeProvider(Cycles.Make("Saw 1", 220).StartedAt.AddDays(7)), new HistoryOptions { KeepProfiles = TimeSpan.FromDays(7) });
        await keeping.LookAsync(CancellationToken.None);

        Assert.Equal(before with { Profiles = 200, Evidence = 200, Assessments = 200 }, Rows(history));
        Assert.Equal(Cycles.Make("Saw 1", 199).StartedAt.ToUnixTimeMilliseconds(), history.Ask("SELECT min(at) FROM load_checkpoints"));
        Assert.Null(await history.Reader.ProfileAsync("Saw 1-000199"));
        Assert.NotNull(await history.Reader.ProfileAsync("Saw 1-000200"));
        Assert.Empty(history.Log.Entries);
    }

    [Fact]
    public async Task Look_MuchWasDeleted_GivesBackAllButWhatIsUsedAgainSoon()
    {
        await using var history = new RunningHistory();
        await StoreSamplesAsync(history, 60_000, TimeSpan.FromSeconds(1), full: true);
        var file = Size(history);
        Assert.True(file > 10_000_000, "enough to be given back");

        await Keeping(history, new FakeTimeProvider(Begin.AddDays(2))).LookAsync(CancellationToken.None);

        Assert.InRange((long)history.Ask("PRAGMA freelist_count")!, 1, 1024);
        Assert.True(Size(history) < file / 2, $"{Size(history)} of {file} bytes are left");
        Assert.Equal("ok", history.Ask("PRAGMA integrity_check"));
    }

    // While somebody reads for long it cannot be taken in.
    [Fact]
    public async Task Look_TheLogBesideTheFile_CountsInTheBudget_AndIsTakenIn_ButNothingGoesForIt()
    {
        await using var history = new RunningHistory();
        await StoreSamplesAsync(history, 20_000, TimeSpan.FromSeconds(1), full: true);
        history.Ask("PRAGMA wal_checkpoint(TRUNCATE)");
        var file = Size(history);
        var keeping = Keeping(history, new FakeTimeProvider(Begin.AddHours(20)), new HistoryOptions { BudgetBytes = file + 2_000_000 }, TimeSpan.FromDays(30));
        using (var reading = new Microsoft.Data.Sqlite.SqliteConnection($"Data Source={history.FilePath};Pooling=False"))
        {
            reading.Open();
            using var transaction = reading.BeginTransaction(deferred: true);
            using var command = reading.CreateCommand();
            command.Transaction = transaction;
            command.CommandText = "SELECT count(*) FROM signal_samples";
            command.ExecuteScalar();
            for (var i = 0; i < 2000; i++)
                await history.Writer.SaveCursorAsync("reader", i, [], CancellationToken.None);
            await keeping.LookAsync(CancellationToken.None);

            Assert.True(keeping.Space!.LogBytes > 4_000_000, $"the log is {keeping.Space.LogBytes} bytes");
            Assert.True(keeping.Share > 1, $"the share is {keeping.Share}");
        }

        await keeping.LookAsync(CancellationToken.None);

        Assert.InRange(keeping.Share, 0.5, 1);
        Assert.Equal(20_000, await CountAsync(history));
        Assert.Empty(history.Log.Entries);
    }

    // As a file that was written anew by another program, which keeps what it was given only if it is told to.
    [Fact]
    public async Task Look_AFileThatCannotShrink_IsSaidOnce_AndMeasuredByWhatItHolds()
    {
        using var folder = new TempFolder();
        HistoryDatabase.Open(folder.Path).Dispose();
        using (var connection = new Microsoft.Data.Sqlite.SqliteConnection($"Data Source={folder.File(HistoryDatabase.FileName)};Pooling=False"))
        {
            connection.Open();
            HistorySchema.Execute(connection, null, "PRAGMA journal_mode = DELETE; PRAGMA auto_vacuum = NONE; VACUUM");
        }

        await using var history = new RunningHistory(folder.Path);
        await StoreSamplesAsync(history, 60_000, TimeSpan.FromSeconds(1));
        var file = Size(history);
        var keeping = Keeping(history, new FakeTimeProvider(Begin.AddHours(20)), new HistoryOptions { BudgetBytes = file / 2 }, TimeSpan.FromDays(30));

        await keeping.LookAsync(CancellationToken.None);
        await keeping.LookAsync(CancellationToken.None);

        Assert.Equal(file, Size(history));
        Assert.InRange(keeping.Share, 0.9, HistoryKeeping.MadeRoom);
        Assert.Equal([3533, 3530], history.Log.Entries.Select(entry => entry.Id));
        Assert.InRange(await CountAsync(history), 1, 59_999);
    }

    private static HistoryKeeping Keeping(RunningHistory history, TimeProvider time, HistoryOptions? room = null, TimeSpan? signals = null, HistoryTakers? takers = null) =>
        new(history.Writer, history.Reader, signals ?? (room is null ? TimeSpan.FromHours(1) : TimeSpan.FromDays(14)), room ?? new HistoryOptions(), takers ?? HistoryTakers.None, time, history.Log.For<HistoryKeeping>());

    private static async Task StoreSamplesAsync(RunningHistory history, int count, TimeSpan every, bool full = false)
    {
        var figures = new SignalFigures[SignalSample.Signals.Count];
        if (full)
            Array.Fill(figures, new SignalFigures(1, 2.5f, 1.5f, 3.5f, 2.25f));
        await history.Writer.SaveSamplesAsync([.. Enumerable.Range(0, count).Select(n => new SawSample("Saw 1", new SignalSample(Begin + (n * every), every, 1, figures)))], CancellationToken.None);
    }

    // Each with all there can be; the checkpoints lie at each so-many-th.
    private static Task StoreCyclesAsync(RunningHistory history, string saw, int count, int checkpoints) =>
        history.Writer.AppendAsync(
            [.. Enumerable.Range(0, count).Select(n => Evidences.Row(Cycles.Make(saw, n)) with { Checkpoint = (n + 1) % checkpoints == 0 ? new StoredCheckpoint(Cycles.Make(saw, n).StartedAt, new SawState(1, new byte[] { 1 })) : null })],
            CancellationToken.None);

    private static (long Cycles, long Profiles, long Evidence, long Assessments, long Journal) Rows(RunningHistory history)
    {
        long Count(string table) => (long)history.Ask($"SELECT count(*) FROM {table}")!;
        return (Count("cycles"), Count("profiles"), Count("evidence"), Count("assessments"), Count("journal"));
    }

    // What the file really takes, once its log is taken in.
    private static long Size(RunningHistory history)
    {
        history.Ask("PRAGMA wal_checkpoint(TRUNCATE)");
        return new FileInfo(history.FilePath).Length;
    }

    private static Task<long> CountAsync(RunningHistory history) => history.Reader.CountSamplesAsync(SampleFilter.All);
}
