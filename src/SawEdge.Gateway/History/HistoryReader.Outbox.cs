using Microsoft.Data.Sqlite;
using SawEdge.Core.Oee;

namespace SawEdge.Gateway.History;

/// <content>What waits for those who follow the journal.</content>
public sealed partial class HistoryReader
{
    /// <summary>Everyone who has a place in the journal or has set something aside, by name; channels that messages were written for are left out.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyList<string>> ConsumersAsync(CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<string>>(
            connection => Rows(connection, "SELECT consumer FROM (SELECT consumer FROM cursors UNION SELECT consumer FROM refused) WHERE consumer NOT IN (SELECT channel FROM notices) ORDER BY consumer", row => row.GetString(0)),
            cancellation);

    /// <summary>Where a consumer is and what waits for it, all of one moment.</summary>
    /// <param name="consumer">Its name.</param>
    /// <param name="hoursConsumer">Its name as a consumer of the figures of the hours; null where it does not take them.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<StoredOutbox> OutboxAsync(string consumer, string? hoursConsumer, CancellationToken cancellation = default) =>
        AskAsync(
            connection =>
            {
                using var transaction = connection.BeginTransaction(deferred: true);
                var (cursor, moved) = Rows(connection, "SELECT seq, updated FROM cursors WHERE consumer = @consumer", row => (row.GetInt64(0), (DateTimeOffset?)Time(row.GetInt64(1))), ("@consumer", consumer)).FirstOrDefault();
                var waiting = Rows(
                    connection,
                    $"SELECT count(*) FILTER (WHERE kind = '{JournalKinds.Cycle}'), count(*) FILTER (WHERE kind = '{JournalKinds.AlarmEvent}') FROM journal WHERE seq > @cursor",
                    row => (Cycles: row.GetInt64(0), AlarmEvents: row.GetInt64(1)),
                    ("@cursor", cursor))[0];
                var oldest = Rows(
                    connection,
                    $"SELECT at FROM journal WHERE seq > @cursor AND kind IN ('{JournalKinds.Cycle}', '{JournalKinds.AlarmEvent}') ORDER BY seq LIMIT 1",
                    row => (DateTimeOffset?)Time(row.GetInt64(0)),
                    ("@cursor", cursor)).FirstOrDefault();
                var aside = Rows(connection, $"SELECT count(*), max(at) FROM refused WHERE {Lanes.OrLane}", row => (Count: row.GetInt64(0), At: row.IsDBNull(1) ? (DateTimeOffset?)null : Time(row.GetInt64(1))), ("@consumer", consumer))[0];
                return new StoredOutbox(consumer, cursor, moved)
                {
                    Cycles = waiting.Cycles,
                    AlarmEvents = waiting.AlarmEvents,
                    OldestAt = oldest,
                    Hours = hoursConsumer is null ? 0 : HoursWaiting(connection, hoursConsumer),
                    SetAside = aside.Count,
                    SetAsideAt = aside.At,
                };
            },
            cancellation);

    /// <summary>What a consumer's server refused for good, of all its lanes, in order.</summary>
    /// <param name="consumer">Name of the consumer.</param>
    /// <param name="most">Refusals at most.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyList<StoredRefusal>> RefusalsAsync(string consumer, int most = 1000, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<StoredRefusal>>(
            connection => Rows(
                connection,
                $"""
                SELECT r.seq, r.reason, r.at, r.consumer, c.cycle_id, ifnull(h.saw, s.saw), coalesce(h.begins_at, s.at, g.at), {AlarmRows.SelectEvent}, {AlarmRows.SelectNotice}
                FROM (SELECT * FROM refused WHERE {Lanes.OrLane}) AS r
                LEFT JOIN journal AS j ON (r.consumer = @consumer OR r.consumer = @consumer || '{Lanes.Profiles}') AND j.seq = r.seq
                LEFT JOIN cycles AS c ON j.kind = '{JournalKinds.Cycle}' AND c.id = j.item
                LEFT JOIN account_hours AS h ON r.consumer = @consumer || '{Lanes.Hours}' AND h.seq = r.seq
                LEFT JOIN signal_samples AS s ON r.consumer = @consumer || '{Lanes.Signals}' AND s.seq = r.seq
                LEFT JOIN health_reports AS g ON r.consumer = @consumer || '{Lanes.Gateway}' AND g.seq = r.seq
                {JoinAlarms} ORDER BY r.consumer, r.seq LIMIT @most
                """,
                row => new StoredRefusal(row.GetInt64(0), row.GetString(1), Time(row.GetInt64(2)), row.IsDBNull(4) ? null : row.GetString(4))
                {
                    Consumer = row.GetString(3),
                    Saw = row.IsDBNull(5) ? null : row.GetString(5),
                    From = row.IsDBNull(6) ? null : Time(row.GetInt64(6)),
                    AlarmEvent = AlarmRows.ReadEvent(row, 7),
                    Notice = AlarmRows.ReadNotice(row, 7 + AlarmRows.EventColumns),
                },
                ("@consumer", consumer),
                ("@most", most)),
            cancellation);

    /// <summary>How much a consumer's server has refused for good since a moment, of all its lanes.</summary>
    /// <param name="consumer">Name of the consumer.</param>
    /// <param name="since">The moment.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<long> CountRefusedAsync(string consumer, DateTimeOffset since, CancellationToken cancellation = default) =>
        AskAsync(
            connection => Rows(connection, $"SELECT count(*) FROM refused WHERE {Lanes.OrLane} AND at >= @since", row => row.GetInt64(0), ("@consumer", consumer), ("@since", since.ToUnixTimeMilliseconds()))[0],
            cancellation);

    /// <summary>The figures of the hours that touch a period, saw by saw, in order of time.</summary>
    /// <param name="from">The begin of the period; null: no begin.</param>
    /// <param name="to">Its end; null: no end.</param>
    /// <param name="after">The hour after which the page begins; null: at the first.</param>
    /// <param name="most">Hours at most.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="InvalidDataException">What is stored are no figures of a known version.</exception>
    public Task<IReadOnlyList<AccountHour>> AccountHoursInAsync(DateTimeOffset? from, DateTimeOffset? to, AccountHour? after, int most, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<AccountHour>>(
            connection => Rows(
                connection,
                "SELECT saw, begins_at, ends_at, data, seq FROM account_hours WHERE (saw, begins_at) > (@saw, @begins) AND ends_at > @from AND begins_at < @to ORDER BY saw, begins_at LIMIT @most",
                row => AccountHourCodec.Decode(row.GetString(0), new Period(Time(row.GetInt64(1)), Time(row.GetInt64(2))), row.GetInt64(4), (byte[])row[3]),
                ("@saw", after?.Saw ?? ""),
                ("@begins", after?.Hour.From.ToUnixTimeMilliseconds() ?? long.MinValue),
                ("@from", from?.ToUnixTimeMilliseconds() ?? long.MinValue),
                ("@to", to?.ToUnixTimeMilliseconds() ?? long.MaxValue),
                ("@most", most)),
            cancellation);

    private static long HoursWaiting(SqliteConnection connection, string consumer) =>
        Rows(
            connection,
            "SELECT count(*) FROM account_hours WHERE seq > ifnull((SELECT seq FROM cursors WHERE consumer = @consumer), 0)",
            row => row.GetInt64(0),
            ("@consumer", consumer))[0];
}
