using Microsoft.Data.Sqlite;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;
using SQLitePCL;

namespace SawEdge.Gateway.Tests.History;

/// <summary>A commit whose sync failed lies in the log, whole, and counts as undone: what it had is stored again, and must not be there twice.</summary>
public sealed class FailedSyncTests : IDisposable
{
    // SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE of sqlite3.h.
    private const int NoCheckpointOnClose = 1006;

    private readonly TempFolder _folder = new();
    private readonly TempFolder _elsewhere = new();

    public void Dispose()
    {
        _folder.Dispose();
        _elsewhere.Dispose();
    }

    [Fact]
    public void ConnectionOpenedAnew_ACommitThatWasNotSynced_StaysUndone()
    {
        using var database = HistoryDatabase.Open(_folder.Path);
        var log = database.FilePath + "-wal";
        var first = database.OpenForWriting();
        Add(first, "first");
        var end = new FileInfo(log).Length;

        // Written whole, and the sync fails: the frames are in the log, nothing says so in the shared index, and the connection is closed. Neither can it take the log in.
        var frames = FramesOfTheNextCommit(database.FilePath, end);
        using (var file = new FileStream(log, FileMode.Open, FileAccess.Write, FileShare.ReadWrite))
        {
            file.Position = end;
            file.Write(frames);
        }

        Assert.Equal(raw.SQLITE_OK, raw.sqlite3_db_config(first.Handle, NoCheckpointOnClose, 1, out _));
        first.Dispose();

        using var second = database.OpenForWriting();
        Assert.Equal("first", Names(second));
        Add(second, "unsynced");
        Assert.Equal("first unsynced", Names(second));
        Assert.Equal("ok", HistorySchema.Text(second, "PRAGMA integrity_check"));
    }

    // What another connection would write next, on a copy.
    private byte[] FramesOfTheNextCommit(string path, long end)
    {
        var copy = _elsewhere.File(HistoryDatabase.FileName);
        foreach (var suffix in new[] { "", "-wal" })
            File.Copy(path + suffix, copy + suffix);
        using var connection = new SqliteConnection($"Data Source={copy};Pooling=False");
        connection.Open();
        Add(connection, "unsynced");
        using var file = new FileStream(copy + "-wal", FileMode.Open, FileAccess.Read, FileShare.ReadWrite);
        file.Position = end;
        var frames = new byte[file.Length - end];
        file.ReadExactly(frames);
        Assert.NotEmpty(frames);
        return frames;
    }

    private static void Add(SqliteConnection connection, string name) =>
        HistorySchema.Execute(connection, null, $"INSERT INTO audit(at, who, origin, action, subject, detail) VALUES(0, '{name}', '', '', '', '')");

    private static string Names(SqliteConnection connection) => HistorySchema.Text(connection, "SELECT group_concat(who, ' ') FROM (SELECT who FROM audit ORDER BY id)");
}
