using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.History;

public sealed class HistoryBackupTests : IDisposable
{
    private static readonly DateTimeOffset Now = new(2026, 3, 9, 12, 0, 0, TimeSpan.Zero);

    private readonly TempFolder _folder = new();

    private string Data => _folder.File("data");

    private string Backup => _folder.File("backup.db");

    public void Dispose() => _folder.Dispose();

    [PeerFact("sqlite3")]
    public async Task Write_WhileCyclesAreStored_IsOfOneMomentAndWhole()
    {
        await using var history = new RunningHistory(Data);
        await FillAsync(history, 0, 1000);
        var stored = 1000;
        var steps = 0;
        HistoryBackup.Write(Data, Backup, replace: false, (_, _) =>
        {
            // A cycle is acknowledged in the middle of the copying: nothing holds it up, and the backup does not know it.
            steps++;
            history.Writer.AppendAsync(Cycle(stored++), CancellationToken.None).GetAwaiter().GetResult();
        }, CancellationToken.None);

        Assert.True(steps > 2, $"{steps} steps");
        Assert.Equal((long)stored, history.Ask("SELECT count(*) FROM cycles"));
        Assert.False(File.Exists(Backup + "-wal") || File.Exists(Backup + ".part"));
        var (code, output) = await Peer.RunAsync("sqlite3", ["-readonly", Backup, "PRAGMA integrity_check; PRAGMA foreign_key_check; SELECT count(*) FROM cycles; SELECT count(*) FROM profiles; SELECT max(seq) FROM journal; PRAGMA journal_mode;"]);
        Assert.Equal((0, "ok\n1000\n1000\n1000\ndelete"), (code, output.Trim()));
        Assert.Empty(HistoryCheck.Run(Backup, (_, _) => { }, CancellationToken.None).Findings);
    }

    [Fact]
    public async Task Write_BrokenOff_LeavesNothing()
    {
        await using var history = new RunningHistory(Data);
        await FillAsync(history, 0, 800);
        using var cancellation = new CancellationTokenSource();
        Assert.Throws<OperationCanceledException>(() => HistoryBackup.Write(Data, Backup, replace: false, (_, _) => cancellation.Cancel(), cancellation.Token));
        Assert.Equal(["data"], Directory.GetFileSystemEntries(_folder.Path).Select(Path.GetFileName));
    }

    [Fact]
    public async Task Write_HistoryIsDamaged_IsRefusedAndLeavesNothing()
    {
        await using (var history = new RunningHistory(Data))
            await FillAsync(history, 0, 300);
        Damage.Middle(Path.Combine(Data, HistoryDatabase.FileName), 4);
        var error = Assert.Throws<HistoryCorruptException>(() => HistoryBackup.Write(Data, Backup, replace: false, (_, _) => { }, CancellationToken.None));
        Assert.Equal(Path.Combine(Data, HistoryDatabase.FileName), error.FilePath);
        Assert.Equal(["data"], Directory.GetFileSystemEntries(_folder.Path).Select(Path.GetFileName));
    }

    [PeerFact("sqlite3")]
    public async Task KillMinus9_InABackup_LeavesTheOneBeforeAndTheHistoryWhole()
    {
        await using var history = new RunningHistory(Data);
        await FillAsync(history, 0, 600);
        HistoryBackup.Write(Data, Backup, replace: false, (_, _) => { }, CancellationToken.None);
        var before = File.ReadAllBytes(Backup);
        await FillAsync(history, 600, 200);
        await using (var child = Peer.Start(TestHost.Dotnet, [TestHost.AssemblyPath, "backup", Data, Backup]))
        {
            await child.PrintsAsync("in the middle");
            await child.KillAsync();
        }

        Assert.Equal(before, File.ReadAllBytes(Backup));
        Assert.True(File.Exists(Backup + ".part"));
        await history.AppendAsync(Cycles.Make("saw1", 1));
        Assert.Equal("ok", history.Ask("PRAGMA integrity_check"));

        // The next one does not mind what was left.
        HistoryBackup.Write(Data, Backup, replace: true, (_, _) => { }, CancellationToken.None);
        Assert.False(File.Exists(Backup + ".part"));
        Assert.Equal((0, "801"), ((await Peer.RunAsync("sqlite3", ["-readonly", Backup, "SELECT count(*) FROM cycles"])) is var (code, output) ? (code, output.Trim()) : default));
    }

    [Fact]
    public async Task KillMinus9_InARestore_LeavesTheHistoryAsItWas()
    {
        await using (var history = new RunningHistory(Data))
        {
            await FillAsync(history, 0, 800);
            HistoryBackup.Write(Data, Backup, replace: false, (_, _) => { }, CancellationToken.None);
            await history.AppendAsync(Cycles.Make("saw1", 1));
        }

        await using (var child = Peer.Start(TestHost.Dotnet, [TestHost.AssemblyPath, "restore", Data, Backup]))
        {
            await child.PrintsAsync("in the middle");
            await child.KillAsync();
        }

        await using var again = new RunningHistory(Data);
        Assert.Equal(801, await again.Reader.CountAsync(CycleFilter.All));
    }

    [Fact]
    public async Task Restore_PutsTheBackupInPlace_AndSetsTheHistoryAside()
    {
        await using (var history = new RunningHistory(Data))
        {
            await FillAsync(history, 0, 20);
            HistoryBackup.Write(Data, Backup, replace: false, (_, _) => { }, CancellationToken.None);
            await FillAsync(history, 20, 5);
        }

        var outcome = HistoryBackup.Restore(Data, Backup, Now, (_, _) => { }, CancellationToken.None);

        Assert.Equal((HistorySchema.Version, Path.Combine(Data, "history-replaced-20260309T120000Z.db")), (outcome.Version, outcome.Before));
        using (var before = new Microsoft.Data.Sqlite.SqliteConnection($"Data Source={outcome.Before};Pooling=False"))
        {
            before.Open();
            Assert.Equal(25, HistorySchema.Number(before, "SELECT count(*) FROM cycles"));
        }

        await using var restored = new RunningHistory(Data);
        Assert.Equal(20, await restored.Reader.CountAsync(CycleFilter.All));
        await restored.AppendAsync(Cycles.Make("saw1", 1));
        Assert.Equal(21, await restored.Reader.LastSequenceAsync());
    }

    [Fact]
    public async Task Restore_DamagedBackup_ChangesNothing()
    {
        await using (var history = new RunningHistory(Data))
        {
            await FillAsync(history, 0, 300);
            HistoryBackup.Write(Data, Backup, replace: false, (_, _) => { }, CancellationToken.None);
        }

        Damage.Middle(Backup, 4);
        var before = Directory.GetFiles(Data).Order(StringComparer.Ordinal).ToList();
        var error = Assert.Throws<HistoryCorruptException>(() => HistoryBackup.Restore(Data, Backup, Now, (_, _) => { }, CancellationToken.None));
        Assert.Equal(Backup, error.FilePath);
        Assert.Equal(before, Directory.GetFiles(Data).Order(StringComparer.Ordinal));
        await using var again = new RunningHistory(Data);
        Assert.Equal(300, await again.Reader.CountAsync(CycleFilter.All));
    }

    [Fact]
    public async Task Restore_OverADamagedHistoryWithItsLog_TheLogNeverMeetsTheBackup()
    {
        string path;
        await using (var history = new RunningHistory(Data))
        {
            await FillAsync(history, 0, 300);
            HistoryBackup.Write(Data, Backup, replace: false, (_, _) => { }, CancellationToken.None);
            path = history.FilePath;
        }

        // A log of a history that is none any more, as a kill leaves it.
        await using (var child = Peer.Start(TestHost.Dotnet, [TestHost.AssemblyPath, "append", Data]))
        {
            await Until.TrueAsync(() => child.Output.Count(c => c == '\n') > 50, () => $"the child acknowledges cycles; it printed:\n{child.Output}");
            await child.KillAsync();
        }

        Assert.True(File.Exists(path + "-wal"));
        Damage.Header(path);
        var outcome = HistoryBackup.Restore(Data, Backup, Now, (_, _) => { }, CancellationToken.None);

        Assert.True(File.Exists(outcome.Before));
        await using var restored = new RunningHistory(Data);
        Assert.Equal(300, await restored.Reader.CountAsync(CycleFilter.All));
        Assert.Equal("ok", restored.Ask("PRAGMA integrity_check"));
    }

    [Theory]
    [InlineData(1)]
    [InlineData(4)]
    [InlineData(7)]
    public async Task Restore_OfAnOlderVersion_IsBroughtUpToDateByTheNextStart(int version)
    {
        await using (var history = new RunningHistory(Data))
        {
            await FillAsync(history, 0, 20);
            history.CopyAsVersion(version, _folder.Path);
        }

        Assert.Equal(version, HistoryBackup.Restore(Data, _folder.File(HistoryDatabase.FileName), Now, (_, _) => { }, CancellationToken.None).Version);
        await using var restored = new RunningHistory(Data);
        Assert.Equal((20, (long)HistorySchema.Version), (await restored.Reader.CountAsync(CycleFilter.All), restored.Ask("PRAGMA user_version")));
    }

    [Theory]
    [InlineData("PRAGMA user_version = 99", typeof(HistoryNewerException))]
    [InlineData("PRAGMA application_id = 7", typeof(HistoryForeignException))]
    public async Task Restore_OfWhatIsNotOurs_IsRefused(string sql, Type expected)
    {
        await using (var history = new RunningHistory(Data))
            HistoryBackup.Write(Data, Backup, replace: false, (_, _) => { }, CancellationToken.None);
        using (var connection = new Microsoft.Data.Sqlite.SqliteConnection($"Data Source={Backup};Pooling=False"))
        {
            connection.Open();
            HistorySchema.Execute(connection, null, sql);
        }

        Assert.Throws(expected, () => { HistoryBackup.Restore(Data, Backup, Now, (_, _) => { }, CancellationToken.None); });
        Assert.Equal(["gateway.lock", "history.db"], Directory.GetFiles(Data).Select(Path.GetFileName).Order(StringComparer.Ordinal));
    }

    [TmpfsFact]
    public async Task Write_DiskIsFull_SaysSo_LeavesNothing_AndHoldsUpNobody()
    {
        using var disk = TmpfsFactAttribute.Mount(megabytes: 1);
        await using var history = new RunningHistory(Data);
        await FillAsync(history, 0, 1000);
        var error = Assert.Throws<HistoryException>(() => HistoryBackup.Write(Data, Path.Combine(disk.Path, "backup.db"), replace: false, (_, _) => { }, CancellationToken.None));
        Assert.Contains("the disk is full; make room", error.Message, StringComparison.Ordinal);
        Assert.Empty(Directory.GetFileSystemEntries(disk.Path));
        await history.AppendAsync(Cycles.Make("saw1", 1));
    }

    // The power goes when the history is aside and the backup is not yet in its place.
    [Fact]
    public async Task Open_RestoreBrokenOffInItsLastStep_IsFinished()
    {
        await using (var history = new RunningHistory(Data))
            await FillAsync(history, 0, 20);
        var path = Path.Combine(Data, HistoryDatabase.FileName);
        File.Move(path, Path.Combine(Data, AsideFiles.Restored));
        File.WriteAllBytes(path + "-wal", new byte[5000]);

        await using var restored = new RunningHistory(Data);
        Assert.Equal(20, await restored.Reader.CountAsync(CycleFilter.All));
        Assert.Single(Directory.GetFiles(Data, "history-replaced-*.db-wal"));
    }

    [Fact]
    public async Task Compact_GivesBackWhatWasDeleted_WithAndWithoutAGateway()
    {
        CompactionOutcome beside;
        await using (var history = new RunningHistory(Data))
        {
            await FillAsync(history, 0, 1000);
            history.Ask("PRAGMA foreign_keys = ON; DELETE FROM cycles WHERE id <= 500; SELECT 1;");
            beside = HistoryCompaction.Run(Data, (_, _) => { }, CancellationToken.None);
            Assert.Equal(0L, history.Ask("PRAGMA freelist_count"));
            await history.AppendAsync(Cycles.Make("saw1", 1));
            history.Ask("PRAGMA foreign_keys = ON; DELETE FROM cycles WHERE id BETWEEN 501 AND 750; SELECT 1;");
        }

        Assert.False(beside.Rewritten);
        Assert.True(beside.BytesAfter < 0.8 * beside.BytesBefore, $"{beside}");
        var alone = HistoryCompaction.Run(Data, (_, _) => { }, CancellationToken.None);
        Assert.True(alone.Rewritten);
        Assert.True(alone.BytesAfter < 0.8 * alone.BytesBefore, $"{alone}");
        Assert.Equal(alone.BytesAfter, new FileInfo(Path.Combine(Data, HistoryDatabase.FileName)).Length);
        await using var again = new RunningHistory(Data);
        Assert.Equal((251, 2L, "ok"), (await again.Reader.CountAsync(CycleFilter.All), again.Ask("PRAGMA auto_vacuum"), again.Ask("PRAGMA integrity_check")));
    }

    private static FinishedCycle Cycle(int number) => new() { Record = Cycles.Make("saw0", number), Profile = Cycles.Profile(number), SawState = new SawState(1, new byte[100]) };

    private static Task FillAsync(RunningHistory history, int first, int count) =>
        Task.WhenAll(Enumerable.Range(first, count).Select(number => history.Writer.AppendAsync(Cycle(number), CancellationToken.None)));
}
