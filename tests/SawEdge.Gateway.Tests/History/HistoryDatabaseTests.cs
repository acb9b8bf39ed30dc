using Microsoft.Data.Sqlite;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.History;

public sealed class HistoryDatabaseTests
{
    [Fact]
    public async Task Open_AFolderThatIsTaken_NamesTheFolderAndTheOwner()
    {
        await using var history = new RunningHistory();

        var error = Assert.Throws<HistoryInUseException>(() => HistoryDatabase.Open(history.Folder));

        Assert.Equal(Environment.ProcessId, error.Owner);
        Assert.Contains(history.Folder, error.Message, StringComparison.Ordinal);
        Assert.Contains($"process {Environment.ProcessId}", error.Message, StringComparison.Ordinal);
        await history.AppendAsync(Cycles.Make("saw0", 1));
    }

    [Fact]
    public async Task Dispose_AfterWritingAndReading_LeavesNoLogBehind_AndTheNextStartFindsACleanEnd()
    {
        using var folder = new TempFolder();
        await using (var history = new RunningHistory(folder.Path))
        {
            await history.AppendAsync(Cycles.Make("saw0", 1));
            Assert.Equal(1, await history.Reader.CountAsync(CycleFilter.All));
        }

        Assert.Equal(["gateway.lock", "history.db"], Directory.GetFiles(folder.Path).Select(Path.GetFileName).Order(StringComparer.Ordinal));
        using var again = HistoryDatabase.Open(folder.Path);
        Assert.False(again.EndedUncleanly);
    }

    [Fact]
    public void Open_AfterTheOwnerEnded_Succeeds()
    {
        using var folder = new TempFolder();
        using (HistoryDatabase.Open(folder.Path))
        {
        }

        using var again = HistoryDatabase.Open(folder.Path);
        Assert.False(again.EndedUncleanly);
    }

    [Fact]
    public void Open_NewFile_HasTheSafeSettings()
    {
        using var folder = new TempFolder();
        using var database = HistoryDatabase.Open(folder.Path);
        using var connection = database.OpenForWriting();

        Assert.Equal("wal", HistorySchema.Text(connection, "PRAGMA journal_mode"));
        Assert.Equal(2, HistorySchema.Number(connection, "PRAGMA synchronous"));
        Assert.Equal(1, HistorySchema.Number(connection, "PRAGMA foreign_keys"));
        Assert.Equal(2, HistorySchema.Number(connection, "PRAGMA auto_vacuum"));
        Assert.Equal(HistorySchema.Version, HistorySchema.Number(connection, "PRAGMA user_version"));
    }

    [Fact]
    public void Open_WrittenByANewerVersion_IsRefusedUnchanged()
    {
        using var folder = new TempFolder();
        using (var database = HistoryDatabase.Open(folder.Path))
        using (var connection = database.OpenForWriting())
            HistorySchema.Execute(connection, null, "PRAGMA user_version = 99");

        var error = Assert.Throws<HistoryNewerException>(() => HistoryDatabase.Open(folder.Path));
        var reading = Assert.Throws<HistoryNewerException>(() => HistoryReader.OpenFolder(folder.Path));

        Assert.Equal((99, HistorySchema.Version), (error.Found, error.Known));
        Assert.Contains(folder.Path, reading.Message, StringComparison.Ordinal);
        // The refusal gave the folder back: what is wrong is the file alone.
        Assert.Throws<HistoryNewerException>(() => HistoryDatabase.Open(folder.Path));
    }

    [Fact]
    public void Open_ADatabaseOfAnotherProgram_IsRefusedUnchanged()
    {
        using var folder = new TempFolder();
        var path = folder.File(HistoryDatabase.FileName);
        using (var connection = new SqliteConnection($"Data Source={path};Pooling=False"))
        {
            connection.Open();
            HistorySchema.Execute(connection, null, "CREATE TABLE recipes(name TEXT); INSERT INTO recipes VALUES('soup');");
        }

        Assert.Throws<HistoryForeignException>(() => HistoryDatabase.Open(folder.Path));
        Assert.Throws<HistoryForeignException>(() => HistoryDatabase.OpenOrBegin(folder.Path, TimeProvider.System));

        using var check = new SqliteConnection($"Data Source={path};Pooling=False");
        check.Open();
        Assert.Equal("soup", HistorySchema.Text(check, "SELECT name FROM recipes"));
        Assert.Equal(1, HistorySchema.Number(check, "SELECT count(*) FROM sqlite_schema"));
    }

    [Fact]
    public void Open_NoDatabaseAtAll_SaysSo()
    {
        using var folder = new TempFolder();
        File.WriteAllText(folder.File(HistoryDatabase.FileName), string.Concat(Enumerable.Repeat("this is a letter to my aunt ", 500)));

        var error = Assert.Throws<HistoryCorruptException>(() => HistoryDatabase.Open(folder.Path));
        Assert.Equal(folder.File(HistoryDatabase.FileName), error.FilePath);
    }

    [Fact]
    public async Task Open_DamagedInTheMiddleAfterALossOfPower_IsReported()
    {
        using var folder = new TempFolder();
        await using (var history = new RunningHistory(folder.Path))
            await Task.WhenAll(Enumerable.Range(0, 500).Select(i => history.AppendAsync(Cycles.Make("saw0", i))));
        var path = folder.File(HistoryDatabase.FileName);
        using (var file = new FileStream(path, FileMode.Open, FileAccess.Write))
        {
            file.Position = file.Length / 2 / 4096 * 4096;
            file.Write(new byte[3 * 4096]);
        }

        // A log that was left behind is what tells of an unclean end.
        File.WriteAllBytes(path + "-wal", new byte[100]);

        var error = Assert.Throws<HistoryCorruptException>(() => HistoryDatabase.Open(folder.Path));
        Assert.Contains(path, error.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Open_FolderIsAFile_SaysWhichFolder()
    {
        using var folder = new TempFolder();
        File.WriteAllText(folder.File("data"), "");

        var error = Assert.Throws<HistoryException>(() => HistoryDatabase.Open(folder.File("data")));
        Assert.Contains(folder.File("data"), error.Message, StringComparison.Ordinal);
    }

    [PeerFact("sqlite3")]
    public async Task KillMinus9_WhileAppending_EverythingAcknowledgedIsThere()
    {
        using var folder = new TempFolder();
        var acknowledged = new HashSet<string>();
        for (var round = 1; round <= 3; round++)
        {
            await using var child = Peer.Start(TestHost.Dotnet, [TestHost.AssemblyPath, "append", folder.Path]);
            var enough = 150 * round;
            await Until.TrueAsync(() => child.HasExited || child.Output.Count(c => c == '\n') > enough, () => $"the child acknowledges cycles; it printed:\n{child.Output}");
            var taken = Assert.Throws<HistoryInUseException>(() => HistoryDatabase.Open(folder.Path));
            Assert.Equal(child.Id, taken.Owner);
            await child.KillAsync();
            // The last line may be cut off in the middle of its print; all others are whole.
            acknowledged.UnionWith(child.Output.Split('\n').Where(line => line.Length == "saw0-000000".Length));

            // An independent program checks the file as the kill left it.
            var check = await Peer.RunAsync("sqlite3", [folder.File(HistoryDatabase.FileName), "PRAGMA integrity_check; PRAGMA foreign_key_check;"]);
            Assert.Equal((0, "ok"), (check.ExitCode, check.Output.Trim()));
        }

        await using var history = new RunningHistory(folder.Path);
        var stored = new HashSet<string>();
        await foreach (var record in history.Reader.CyclesAsync(CycleFilter.All))
            Assert.True(stored.Add(record.CycleId), $"{record.CycleId} is there twice");
        Assert.True(acknowledged.Count > 100, $"only {acknowledged.Count} were acknowledged");
        Assert.Empty(acknowledged.Except(stored));
        // The journal names each cycle once, although every round began with the same ones again, and each has its profile.
        Assert.Equal((long)stored.Count, history.Ask("SELECT count(*) FROM journal"));
        Assert.Equal((long)stored.Count, history.Ask("SELECT count(*) FROM profiles"));
        Assert.Equal((long)AppendingProcess.Saws, history.Ask("SELECT count(*) FROM saw_state"));
    }
}
