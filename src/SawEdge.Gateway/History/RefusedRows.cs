using Microsoft.Data.Sqlite;

namespace SawEdge.Gateway.History;

/// <summary>
/// What a person decides about what a consumer set aside, entries of the journal or of another lane: send again, or forget. For any process,
/// whether a gateway owns the folder or not. <see cref="HistoryReader.RefusalsAsync"/> lists them.
/// </summary>
public static class RefusedRows
{
    // In the order of their own numbers: an entry that was sent again and refused again has a later place than what came after it.
    private const string Enter = "INSERT INTO journal(kind, saw, item, at) SELECT kind, saw, item, @at FROM journal WHERE seq IN (SELECT value FROM json_each(@sequences)) ORDER BY kind, item";

    private const string EnterLatest = $"""
        INSERT INTO journal(kind, saw, item, at)
        SELECT '{JournalKinds.AlarmEvent}', subject, max(id), @at FROM alarm_events
        WHERE (rule, subject_kind, subject) IN (
            SELECT e.rule, e.subject_kind, e.subject FROM journal AS j JOIN alarm_events AS e ON e.id = j.item WHERE j.seq > @before AND j.kind = '{JournalKinds.AlarmEvent}')
        GROUP BY rule, subject_kind, subject
        HAVING max(id) NOT IN (SELECT item FROM journal WHERE seq > @before AND kind = '{JournalKinds.AlarmEvent}')
        ORDER BY max(id)
        """;

    /// <summary>
    /// Sends again what was set aside: each entry comes into the journal once more, at its end. All consumers see it there; the
    /// same row again changes nothing for those that took it before. After old events of an alarm comes its latest, so that whoever
    /// shows the state of alarms ends with the present one. What another lane counts gets the next number there.
    /// </summary>
    /// <param name="folder">The data folder; it holds a history of this program's version.</param>
    /// <param name="consumer">Name of the consumer that set them aside, with the lane.</param>
    /// <param name="sequences">Their numbers.</param>
    /// <param name="now">When.</param>
    /// <exception cref="HistoryException">One of them is not set aside, and then nothing is changed; or the history cannot be written.</exception>
    public static void Retry(string folder, string consumer, IReadOnlyCollection<long> sequences, DateTimeOffset now) =>
        OutsideWrite.Run(folder, (connection, transaction) =>
        {
            Remove(connection, transaction, consumer, sequences);
            if (Lanes.TableOf(consumer) is { } table)
                return Renumber(connection, transaction, table, sequences);
            var at = now.ToUnixTimeMilliseconds();
            using var last = OutsideWrite.Command(connection, transaction, "SELECT ifnull(max(seq), 0) FROM journal");
            var before = (long)last.ExecuteScalar()!;
            using var enter = OutsideWrite.Command(connection, transaction, Enter, ("@at", at), ("@sequences", AlarmJson.Write([.. sequences])));
            if (enter.ExecuteNonQuery() < sequences.Count)
                throw new HistoryException("Some of what was set aside is not in the journal any more, so it cannot be sent again; drop it instead.");
            using var latest = OutsideWrite.Command(connection, transaction, EnterLatest, ("@at", at), ("@before", before));
            return latest.ExecuteNonQuery();
        });

    /// <summary>Forgets what was set aside: it is never sent. What it was about stays in the history.</summary>
    /// <inheritdoc cref="Retry(string, string, IReadOnlyCollection{long}, DateTimeOffset)"/>
    public static void Drop(string folder, string consumer, IReadOnlyCollection<long> sequences) =>
        OutsideWrite.Run(folder, (connection, transaction) =>
        {
            Remove(connection, transaction, consumer, sequences);
            return true;
        });

    // All destinations take it again as it is now. What has another number by now was told anew by itself. The numbers of reports are their keys.
    private static int Renumber(SqliteConnection connection, SqliteTransaction transaction, string table, IEnumerable<long> sequences)
    {
        var sql = table == "health_reports"
            ? "INSERT INTO health_reports(at, data) SELECT at, data FROM health_reports WHERE seq = @seq; DELETE FROM health_reports WHERE seq = @seq"
            : $"UPDATE {table} SET seq = (SELECT max(seq) + 1 FROM {table} WHERE seq IS NOT NULL) WHERE seq = @seq";
        var count = 0;
        foreach (var sequence in sequences.Order())
        {
            using var renumber = OutsideWrite.Command(connection, transaction, sql, ("@seq", sequence));
            count += renumber.ExecuteNonQuery();
        }

        return count;
    }

    private static void Remove(SqliteConnection connection, SqliteTransaction transaction, string consumer, IReadOnlyCollection<long> sequences)
    {
        foreach (var sequence in sequences)
        {
            using var remove = OutsideWrite.Command(connection, transaction, "DELETE FROM refused WHERE consumer = @consumer AND seq = @seq", ("@consumer", consumer), ("@seq", sequence));
            if (remove.ExecuteNonQuery() == 0)
                throw new HistoryException($"'{consumer}' has not set aside anything under number {sequence}; look again at what it has.");
        }
    }
}
