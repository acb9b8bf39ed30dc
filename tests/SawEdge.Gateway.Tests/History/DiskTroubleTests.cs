using Microsoft.Data.Sqlite;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.History;

public sealed class DiskTroubleTests
{
    [Fact]
    public async Task LockedByAnotherProgram_IsSaidOnceAndMendedWithoutARestart()
    {
        await using var history = new RunningHistory();
        await history.AppendAsync(Cycles.Make("saw0", 0));
        await using var other = new SqliteConnection($"Data Source={history.FilePath};Pooling=False");
        other.Open();
        HistorySchema.Execute(other, null, "BEGIN IMMEDIATE");

        var waiting = Enumerable.Range(1, 20).Select(i => history.AppendAsync(Cycles.Make("saw0", i))).ToList();
        await Until.TrueAsync(() => history.Writer.InTrouble, "the writer notices");
        Assert.DoesNotContain(waiting, task => task.IsCompleted);
        // Reading goes on meanwhile.
        Assert.Equal(1, await history.Reader.CountAsync(CycleFilter.All));

        HistorySchema.Execute(other, null, "ROLLBACK");
        await Task.WhenAll(waiting);

        Assert.Equal(21, await history.Reader.CountAsync(CycleFilter.All));
        Assert.Equal((1, 1), (history.Log.Count(4001), history.Log.Count(4002)));
        Assert.False(history.Writer.InTrouble);
    }

    [TmpfsFact]
    public async Task DiskFull_CallersWaitNothingIsLostAndItGoesOnByItself()
    {
        using var disk = TmpfsFactAttribute.Mount(megabytes: 4);
        await using var history = new RunningHistory(disk.Path);
        await history.AppendAsync(Cycles.Make("saw0", 0));
        var filler = Path.Combine(disk.Path, "filler");
        Fill(filler);

        var waiting = Enumerable.Range(1, 200).Select(i => history.Writer.AppendAsync(new FinishedCycle { Record = Cycles.Make("saw0", i), Profile = Cycles.Profile(i) }, CancellationToken.None)).ToList();
        await Until.TrueAsync(() => history.Writer.InTrouble, "the writer notices that the disk is full");
        Assert.Contains(waiting, task => !task.IsCompleted);
        var acknowledged = waiting.Count(task => task.IsCompletedSuccessfully);
        Assert.True(await history.Reader.CountAsync(CycleFilter.All) >= acknowledged + 1);

        File.Delete(filler);
        await Task.WhenAll(waiting);

        Assert.Equal(201, await history.Reader.CountAsync(CycleFilter.All));
        Assert.Equal(201, (await history.Reader.JournalAsync(0, 1000)).Count);
        Assert.Equal("ok", history.Ask("PRAGMA integrity_check"));
        Assert.Contains("full", Assert.Single(history.Log.Entries, entry => entry.Id == 4001).Text, StringComparison.Ordinal);
        Assert.Single(history.Log.Entries, entry => entry.Id == 4002);
    }

    [TmpfsFact]
    public async Task DiskFull_CallerStopsWaiting_TheOthersAreStillStored()
    {
        using var disk = TmpfsFactAttribute.Mount(megabytes: 4);
        await using var history = new RunningHistory(disk.Path, capacity: 4);
        var filler = Path.Combine(disk.Path, "filler");
        Fill(filler);
        using var impatient = new CancellationTokenSource();

        var tasks = Enumerable.Range(0, 60).Select(i => history.Writer.AppendAsync(new FinishedCycle { Record = Cycles.Make("saw0", i), Profile = Cycles.Profile(i) }, i == 59 ? impatient.Token : CancellationToken.None)).ToList();
        await Until.TrueAsync(() => history.Writer.InTrouble, "the writer notices that the disk is full");
        await impatient.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => tasks[59]);
        File.Delete(filler);
        await Task.WhenAll(tasks.Take(59));

        Assert.InRange(await history.Reader.CountAsync(CycleFilter.All), 59, 60);
    }

    [Fact]
    public async Task FileDamagedWhileRunning_EndsTheWriterAndTellsWhoWaits()
    {
        using var folder = new TempFolder();
        using var database = HistoryDatabase.Open(folder.Path);
        var log = new CollectedLog();
        var writer = new HistoryWriter(database, TimeProvider.System, log.For<HistoryWriter>());
        using (var connection = database.OpenForWriting())
            HistorySchema.Execute(connection, null, "PRAGMA wal_checkpoint(TRUNCATE)");
        await File.WriteAllBytesAsync(database.FilePath, new byte[20_000]);

        var append = writer.AppendAsync(new FinishedCycle { Record = Cycles.Make("saw0", 1) }, CancellationToken.None);
        await Assert.ThrowsAsync<HistoryCorruptException>(() => writer.RunAsync(CancellationToken.None));
        await Assert.ThrowsAsync<HistoryCorruptException>(() => append);
        await Assert.ThrowsAsync<HistoryException>(() => writer.AppendAsync(new FinishedCycle { Record = Cycles.Make("saw0", 2) }, CancellationToken.None));
    }

    private static void Fill(string path)
    {
        using var file = new FileStream(path, FileMode.Create, FileAccess.Write, FileShare.None, bufferSize: 0);
        var block = new byte[4096];
        try
        {
            while (true)
                file.Write(block);
        }
        catch (IOException)
        {
            // Full: that is what was wanted.
        }
    }
}
