using Microsoft.Data.Sqlite;

namespace SawEdge.Gateway.History;

/// <content>What the history takes on the disk, and what of it can go.</content>
public sealed partial class HistoryReader
{
    // Cycles that are looked at in one step, going back; where none of them has anything, nothing is left before them.
    private const int LookedAt = 500;

    /// <summary>What the history takes on the disk. Cheap.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<HistorySpace> SpaceAsync(CancellationToken cancellation = default) =>
        AskAsync(
            connection =>
            {
                // One moment: what is written between two questions must not make the pages fewer than the free ones.
                using var transaction = connection.BeginTransaction(deferred: true);
                return new HistorySpace(
                    HistorySchema.Number(connection, "PRAGMA page_count"),
                    HistorySchema.Number(connection, "PRAGMA freelist_count"),
                    (int)HistorySchema.Number(connection, "PRAGMA page_size"),
                    HistorySchema.Number(connection, "PRAGMA auto_vacuum") != 0,
                    new FileInfo(_path + "-wal") is { Exists: true } log ? log.Length : 0);
            },
            cancellation);

    /// <summary>Takes the log into the file and cuts it to nothing, if nobody reads what stands in it.</summary>
    /// <exception cref="HistoryException">The history cannot be written.</exception>
    internal Task TakeLogInAsync(CancellationToken cancellation = default) =>
        AskAsync(
            _ =>
            {
                using var connection = new SqliteConnection(new SqliteConnectionStringBuilder { DataSource = _path, Mode = SqliteOpenMode.ReadWrite, Pooling = false, DefaultTimeout = 1 }.ToString());
                connection.Open();
                HistorySchema.Text(connection, "PRAGMA wal_checkpoint(TRUNCATE)");
                return true;
            },
            cancellation);

    /// <summary>The oldest stretch of cycles whose details can go, so that computing anew goes on from a checkpoint behind it.</summary>
    /// <remarks>Of each saw all since the last but one checkpoint stays: what is entered late mostly speaks of that time.</remarks>
    /// <param name="before">Only a stretch that ends before.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <returns>The stretch; null where none can go.</returns>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    internal Task<DetailBlock?> OldestDetailsAsync(DateTimeOffset before, CancellationToken cancellation = default) =>
        AskAsync(
            connection =>
            {
                var checkpoints = Rows(
                    connection,
                    "SELECT saw, at FROM load_checkpoints AS k WHERE at < @before AND at < (SELECT max(at) FROM load_checkpoints WHERE saw = k.saw) ORDER BY at, saw",
                    row => (Saw: row.GetString(0), At: row.GetInt64(1)),
                    ("@before", before.ToUnixTimeMilliseconds()));
                foreach (var (saw, at) in checkpoints)
                {
                    // Before the first checkpoint all may be gone already; between two there always is something, because the earlier ones go with it.
                    if (FirstDetails(connection, saw, at) is { } first)
                        return new DetailBlock(saw, Time(first), Time(at));
                }

                return null;
            },
            cancellation);

    /// <summary>The first checkpoint of a saw, where cycles before it have lost what their records were computed from.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="version">Version that it must have.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <returns>The checkpoint; null where there is none or all can be computed anew.</returns>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    internal Task<StoredCheckpoint?> CheckpointAfterClearedAsync(string saw, int version, CancellationToken cancellation = default) =>
        AskAsync(
            connection => Rows(
                connection,
                """
                SELECT at, version, data FROM (SELECT at, version, data FROM load_checkpoints WHERE saw = @saw AND version = @version ORDER BY at LIMIT 1) AS k
                WHERE EXISTS(SELECT 1 FROM cycles AS c WHERE c.saw = @saw AND c.started_at <= k.at AND NOT EXISTS(SELECT 1 FROM evidence WHERE cycle = c.id))
                """,
                row => new StoredCheckpoint(Time(row.GetInt64(0)), new SawState(row.GetInt32(1), (byte[])row[2])),
                ("@saw", saw),
                ("@version", version)).FirstOrDefault(),
            cancellation);

    // Start of the first of the last unbroken run of cycles up to a moment that have something; null where they have nothing.
    private static long? FirstDetails(SqliteConnection connection, string saw, long to)
    {
        long? first = null;
        var (start, id) = (to, long.MaxValue);
        while (true)
        {
            var (lastStart, lastId) = (start, id);
            var page = Rows(
                connection,
                $"SELECT c.started_at, c.id, {SpaceStatements.HasDetails} FROM cycles AS c WHERE c.saw = @saw AND (c.started_at, c.id) < (@start, @id) ORDER BY c.started_at DESC, c.id DESC LIMIT {LookedAt}",
                row => (At: row.GetInt64(0), Id: row.GetInt64(1), Has: row.GetBoolean(2)),
                ("@saw", saw),
                ("@start", lastStart),
                ("@id", lastId));
            var found = page.FindLastIndex(row => row.Has);
            if (found >= 0)
                first = page[found].At;
            if (found < 0 || page.Count < LookedAt)
                return first;
            (start, id) = (page[^1].At, page[^1].Id);
        }
    }
}
