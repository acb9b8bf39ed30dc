using Microsoft.Data.Sqlite;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.History;

/// <summary>What a restore did.</summary>
/// <param name="Version">Schema version of the backup; the gateway brings it up to date at its next start.</param>
/// <param name="Before">Where the history lies that was there before, full path; null where there was none.</param>
public sealed record RestoreOutcome(int Version, string? Before);

/// <summary>Backups of a history, and histories from backups.</summary>
internal static class HistoryBackup
{
    /// <summary>Writes a backup beside a running gateway: one file of one moment, checked, there whole or not at all.</summary>
    /// <param name="folder">The data folder.</param>
    /// <param name="file">The backup.</param>
    /// <param name="replace">Whether a file of that name may be replaced.</param>
    /// <param name="progress">Told how many pages are copied, and of how many.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <exception cref="HistoryException">The history cannot be read or is damaged, or the backup cannot be written.</exception>
    public static void Write(string folder, string file, bool replace, Action<long, long> progress, CancellationToken cancellation)
    {
        var (history, full) = (Path.Combine(Path.GetFullPath(folder), HistoryDatabase.FileName), Path.GetFullPath(file));
        if (Directory.Exists(full))
            throw new HistoryException($"'{file}' is a folder; name a file in it.");
        if (File.Exists(full) && !replace)
            throw new HistoryException($"'{file}' is there already; choose another name.");
        if (full == history)
            throw new HistoryException($"'{file}' is the history itself; choose another name.");
        if (!Directory.Exists(Path.GetDirectoryName(full)))
            throw new HistoryException($"There is no folder '{Path.GetDirectoryName(full)}'; make it first.");
        var draft = full + PageCopy.DraftEnding;
        PageCopy.Run(history, draft, progress, cancellation);
        Rename(draft, full, replace);
    }

    /// <summary>Puts a backup in the history's place, and the history aside. Until the backup is known to be whole nothing is changed, and nothing is deleted.</summary>
    /// <param name="folder">The data folder.</param>
    /// <param name="file">The backup.</param>
    /// <param name="now">The time in the name of what is set aside.</param>
    /// <param name="progress">Told how many pages are copied, and of how many.</param>
    /// <param name="cancellation">Breaks off; not any more once the history is set aside.</param>
    /// <exception cref="HistoryInUseException">A gateway owns the folder.</exception>
    /// <exception cref="HistoryException">The backup cannot be used, or the folder cannot be written.</exception>
    public static RestoreOutcome Restore(string folder, string file, DateTimeOffset now, Action<long, long> progress, CancellationToken cancellation)
    {
        var full = Path.GetFullPath(folder);
        var history = Path.Combine(full, HistoryDatabase.FileName);
        if (!File.Exists(file))
            throw new HistoryException($"There is no file '{file}'; name a backup.");
        if (Path.GetFullPath(file) == history)
            throw new HistoryException($"'{file}' is the history itself; name a backup.");
        using var owner = FolderLock.Take(full);
        var draft = history + PageCopy.DraftEnding;
        var version = PageCopy.Run(file, draft, progress, cancellation);
        cancellation.ThrowIfCancellationRequested();

        // From here on a loss of power leaves either the one history or the other: the next start finishes what was begun.
        var restored = Path.Combine(full, AsideFiles.Restored);
        Rename(draft, restored, replace: true);
        var before = File.Exists(history) ? SetAside(full, history, now) : null;
        AsideFiles.Finish(full);
        AsideFiles.Settle(full);
        AsideFiles.Trust(full);
        return new RestoreOutcome(version, before);
    }

    // A log that belongs to the history before is taken in, or goes aside with it: the restored one must never meet it.
    private static string SetAside(string folder, string history, DateTimeOffset now)
    {
        try
        {
            using var connection = new SqliteConnection($"Data Source={history};Mode=ReadWrite;Pooling=False");
            connection.Open();
            HistorySchema.Text(connection, "PRAGMA wal_checkpoint(TRUNCATE)");
        }
        catch (SqliteException)
        {
            // It is damaged, which is why a backup takes its place; it goes aside with its log as it is.
        }

        return AsideFiles.Move(folder, AsideFiles.Replaced, now);
    }

    private static void Rename(string from, string to, bool replace)
    {
        try
        {
            File.Move(from, to, replace);
            FolderFlush.Run(Path.GetDirectoryName(to)!);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new HistoryException($"'{to}' cannot be written: {e.Message} The finished copy lies in '{from}'.", e);
        }
    }
}
