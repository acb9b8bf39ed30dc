using System.Globalization;
using Microsoft.Data.Sqlite;

namespace SawEdge.Gateway.History;

/// <summary>What a compaction gave.</summary>
/// <param name="Rewritten">Whether the file was written anew; otherwise only free pages were given back, because a gateway owns the folder.</param>
/// <param name="BytesBefore">Size of the file before.</param>
/// <param name="BytesAfter">Size of the file after.</param>
public sealed record CompactionOutcome(bool Rewritten, long BytesBefore, long BytesAfter);

/// <summary>
/// Gives the disk back what the history does not need. Without a gateway the file is written anew (<c>VACUUM</c>), which puts its pages in
/// order as well; beside one, free pages are given back in small transactions that hold it up for milliseconds each.
/// </summary>
internal static class HistoryCompaction
{
    // About 2 MB a step.
    private const int PagesAtOnce = 512;

    /// <summary>Compacts.</summary>
    /// <param name="folder">The data folder; it holds a history.</param>
    /// <param name="progress">Told how many free pages are given back, and of how many; nothing is told while the file is written anew.</param>
    /// <param name="cancellation">Breaks off between steps.</param>
    /// <exception cref="HistoryException">There is no history of this program's version, there is too little room, or it cannot be written.</exception>
    public static CompactionOutcome Run(string folder, Action<long, long> progress, CancellationToken cancellation)
    {
        var full = Path.GetFullPath(folder);
        HistoryDatabase database;
        try
        {
            database = HistoryDatabase.Open(full);
        }
        catch (HistoryInUseException)
        {
            return GiveBack(full, progress, cancellation);
        }

        using (database)
            return Rewrite(database);
    }

    private static CompactionOutcome Rewrite(HistoryDatabase database)
    {
        try
        {
            using var connection = database.OpenForWriting();
            var page = HistorySchema.Number(connection, "PRAGMA page_size");
            var before = HistorySchema.Number(connection, "PRAGMA page_count") * page;
            var needed = 2 * (before - (HistorySchema.Number(connection, "PRAGMA freelist_count") * page));

            // The new pages lie beside the old ones and then in the log before they take their place.
            if (new DriveInfo(database.Folder).AvailableFreeSpace is var free && free < needed)
                throw new HistoryException(string.Create(CultureInfo.InvariantCulture, $"Writing the history anew takes {needed / 1e6:N0} MB of free space where '{database.Folder}' is, and {free / 1e6:N0} MB are free. Make room; beside a running gateway, 'history compact' needs none."));

            // What is sorted meanwhile may be as large as the file: on its disk, not in memory or in a small /tmp. SQLite keeps the name for the whole process.
            HistorySchema.Execute(connection, null, $"PRAGMA temp_store = FILE; PRAGMA temp_store_directory = '{database.Folder.Replace("'", "''", StringComparison.Ordinal)}';");
            try
            {
                HistorySchema.Execute(connection, null, "VACUUM");
            }
            finally
            {
                HistorySchema.Execute(connection, null, "PRAGMA temp_store_directory = ''");
            }

            HistorySchema.Text(connection, "PRAGMA wal_checkpoint(TRUNCATE)");
            return new CompactionOutcome(true, before, HistorySchema.Number(connection, "PRAGMA page_count") * page);
        }
        catch (SqliteException e) when (SqliteTrouble.Classify(e) == TroubleKind.Damage)
        {
            throw new HistoryCorruptException(database.FilePath, e.Message, e);
        }
        catch (SqliteException e)
        {
            throw new HistoryException($"The history '{database.FilePath}' cannot be written anew: {SqliteTrouble.Describe(e)}. It is as it was.", e);
        }
    }

    private static CompactionOutcome GiveBack(string folder, Action<long, long> progress, CancellationToken cancellation)
    {
        long all = -1, before = 0, after = 0, left = 0, last;
        do
        {
            cancellation.ThrowIfCancellationRequested();
            last = left;
            (left, after) = OutsideWrite.Run(folder, (connection, transaction) =>
            {
                var page = HistorySchema.Number(connection, "PRAGMA page_size");
                if (all < 0)
                    (all, before) = (HistorySchema.Number(connection, "PRAGMA freelist_count"), HistorySchema.Number(connection, "PRAGMA page_count") * page);

                // It takes one page away with each row that is asked of it.
                using var command = OutsideWrite.Command(connection, transaction, string.Create(CultureInfo.InvariantCulture, $"PRAGMA incremental_vacuum({PagesAtOnce})"));
                using (var row = command.ExecuteReader())
                {
                    while (row.Read())
                    {
                    }
                }

                return (HistorySchema.Number(connection, "PRAGMA freelist_count"), HistorySchema.Number(connection, "PRAGMA page_count") * page);
            });
            progress(all - left, all);
        }
        while (left > 0 && left != last);

        // What is free now may be in use again at once: the file is measured when the gateway has taken its log in.
        return new CompactionOutcome(false, before, after);
    }
}
