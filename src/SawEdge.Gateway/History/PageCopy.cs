using Microsoft.Data.Sqlite;
using SQLitePCL;

namespace SawEdge.Gateway.History;

/// <summary>
/// Copies a history page by page with SQLite's online backup (https://www.sqlite.org/backup.html). The copy is of one moment, because a read
/// transaction is held over it; who writes meanwhile is not held up, only the log cannot be cut back. It lies in one file, without a log.
/// </summary>
internal static class PageCopy
{
    private const int PagesAtOnce = 128;

    /// <summary>How the name of a copy ends that is not whole yet.</summary>
    public const string DraftEnding = ".part";

    /// <summary>Copies, checks the copy, and brings it to the disk. Whatever goes wrong, no copy is left.</summary>
    /// <param name="from">The history or backup.</param>
    /// <param name="to">The copy; one of that name is replaced.</param>
    /// <param name="progress">Told how many pages are copied, and of how many.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <returns>The copy's schema version.</returns>
    /// <exception cref="HistoryException">The one cannot be read, is damaged or newer, or the other cannot be written.</exception>
    public static int Run(string from, string to, Action<long, long> progress, CancellationToken cancellation)
    {
        var whole = false;
        try
        {
            Remove(to);
            int version;
            using (var source = Open(from, SqliteOpenMode.ReadOnly))
            {
                using var moment = source.BeginTransaction(deferred: true);
                version = HistorySchema.Check(source, from);
                if (version == 0)
                    throw new HistoryException($"'{from}' is no history: it holds nothing.");
                Copy(source, to, progress, cancellation);
            }

            Finish(from, to);
            Flush(to);
            whole = true;
            return version;
        }
        catch (SqliteException e) when (SqliteTrouble.Classify(e) == TroubleKind.Damage)
        {
            throw new HistoryCorruptException(from, e.Message, e);
        }
        catch (SqliteException e)
        {
            throw new HistoryException($"'{from}' cannot be copied to '{to}': {SqliteTrouble.Describe(e)}.", e);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new HistoryException($"'{from}' cannot be copied to '{to}': {e.Message}", e);
        }
        finally
        {
            if (!whole)
                TryRemove(to);
        }
    }

    private static void Copy(SqliteConnection source, string to, Action<long, long> progress, CancellationToken cancellation)
    {
        using var target = Open(to, SqliteOpenMode.ReadWriteCreate);

        // The copy is whole or not there: it needs no way back, and one sync at its end.
        HistorySchema.Execute(target, null, "PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF;");
        using var backup = raw.sqlite3_backup_init(target.Handle, "main", source.Handle, "main");
        if (backup.IsInvalid)
            SqliteException.ThrowExceptionForRC(raw.sqlite3_errcode(target.Handle), target.Handle);
        while (true)
        {
            cancellation.ThrowIfCancellationRequested();
            var code = raw.sqlite3_backup_step(backup, PagesAtOnce);
            long all = raw.sqlite3_backup_pagecount(backup);
            progress(all - raw.sqlite3_backup_remaining(backup), all);
            if (code == raw.SQLITE_DONE)
                return;
            SqliteException.ThrowExceptionForRC(code, target.Handle);
        }
    }

    private static void Finish(string from, string to)
    {
        using var copy = Open(to, SqliteOpenMode.ReadWrite);
        HistorySchema.Text(copy, "PRAGMA journal_mode = DELETE");
        if (HistoryCheck.Unsound(copy) is [var first, ..])
            throw new HistoryCorruptException(from, first);
    }

    private static void Flush(string path)
    {
        using var stream = new FileStream(path, FileMode.Open, FileAccess.ReadWrite);
        stream.Flush(flushToDisk: true);
    }

    private static SqliteConnection Open(string path, SqliteOpenMode mode)
    {
        var connection = new SqliteConnection(new SqliteConnectionStringBuilder { DataSource = path, Mode = mode, Pooling = false, DefaultTimeout = 10 }.ToString());
        try
        {
            connection.Open();
            return connection;
        }
        catch
        {
            connection.Dispose();
            throw;
        }
    }

    private static void Remove(string path)
    {
        foreach (var ending in (string[])["", "-journal", "-wal", "-shm"])
            File.Delete(path + ending);
    }

    private static void TryRemove(string path)
    {
        try
        {
            Remove(path);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            // What kept it from being written keeps it from being removed; that is on its way to the caller.
        }
    }
}
