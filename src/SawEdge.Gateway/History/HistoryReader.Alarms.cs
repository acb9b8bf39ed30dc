using System.Globalization;
using System.Runtime.CompilerServices;
using Microsoft.Data.Sqlite;
using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.History;

/// <content>Questions about alarms.</content>
public sealed partial class HistoryReader
{
    private const string JoinAlarms =
        $"LEFT JOIN alarm_events AS e ON j.kind = '{JournalKinds.AlarmEvent}' AND e.id = j.item LEFT JOIN notices AS n ON j.kind = '{JournalKinds.Notice}' AND n.id = j.item";

    /// <summary>What the alarms had to remember when they last stored anything; null where nothing was stored.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<AlarmMemory?> AlarmMemoryAsync(CancellationToken cancellation = default) =>
        AskAsync(connection => Rows(connection, "SELECT board, plan FROM alarm_memory", row => new AlarmMemory(row.GetString(0), row.GetString(1))).FirstOrDefault(), cancellation);

    /// <summary>The greatest number that was given to an occurrence; 0 where there is none.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<long> LastAlarmNumberAsync(CancellationToken cancellation = default) =>
        AskAsync(connection => Rows(connection, "SELECT ifnull(max(number), 0) FROM alarms", row => row.GetInt64(0))[0], cancellation);

    /// <summary>Answers that the alarms have not dealt with yet, in order. Cheap.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyList<StoredAnswer>> OpenAnswersAsync(CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<StoredAnswer>>(
            connection => Rows(connection, $"SELECT {AlarmAnswerRows.Select} FROM alarm_answers WHERE done IS NULL ORDER BY id", AlarmAnswerRows.Read),
            cancellation);

    /// <summary>What became of an answer; null while nobody has dealt with it.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<AnswerOutcome?> AnswerOutcomeAsync(long id, CancellationToken cancellation = default) =>
        AskAsync(
            connection => Rows(connection, "SELECT problem FROM alarm_answers WHERE id = @id AND done IS NOT NULL", row => new AnswerOutcome(id, row.IsDBNull(0) ? null : row.GetString(0)), ("@id", id)).FirstOrDefault(),
            cancellation);

    /// <summary>Whether a one-time link was used.</summary>
    /// <param name="nonce">What tells it from all others.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<bool> IsLinkUsedAsync(string nonce, CancellationToken cancellation = default) =>
        AskAsync(connection => Rows(connection, "SELECT 1 FROM used_links WHERE nonce = @nonce", row => row.GetInt64(0), ("@nonce", nonce)).Count > 0, cancellation);

    /// <summary>Occurrences, the latest first, page by page.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="InvalidDataException">What is stored is none that this program knows.</exception>
    public async IAsyncEnumerable<Alarm> AlarmsAsync(AlarmFilter filter, [EnumeratorCancellation] CancellationToken cancellation = default)
    {
        Alarm? last = null;
        while (true)
        {
            var before = last;
            var page = await AlarmPageAsync(filter, before is null ? null : (before.RaisedAt, before.Number), Page, cancellation);
            foreach (var alarm in page)
                yield return alarm;
            if (page.Count < Page)
                yield break;
            last = page[^1];
        }
    }

    /// <summary>One occurrence as it is now, or null.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="InvalidDataException">What is stored is none that this program knows.</exception>
    public Task<Alarm?> AlarmAsync(long number, CancellationToken cancellation = default) =>
        AskAsync(connection => Rows(connection, $"SELECT {AlarmRows.SelectAlarm} FROM alarms AS a WHERE a.number = @number", AlarmRows.ReadAlarm, ("@number", number)).FirstOrDefault(), cancellation);

    /// <summary>Events in the order in which they were stored, page by page.</summary>
    /// <param name="from">Only events at this moment or later; null: all.</param>
    /// <param name="to">Only events before this moment; null: all.</param>
    /// <param name="number">Only those of this occurrence; null: all.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="InvalidDataException">What is stored is none that this program knows.</exception>
    public async IAsyncEnumerable<StoredAlarmEvent> AlarmEventsAsync(DateTimeOffset? from, DateTimeOffset? to, long? number = null, [EnumeratorCancellation] CancellationToken cancellation = default)
    {
        var (start, end) = (from?.ToUnixTimeMilliseconds() ?? long.MinValue, to?.ToUnixTimeMilliseconds() ?? long.MaxValue);
        // Times and numbers of events rise together but for moments: the numbers that a span of time holds lie close together.
        var (after, last) = from is null && to is null
            ? (0L, long.MaxValue)
            : await AskAsync(
                connection => Rows(
                    connection,
                    "SELECT ifnull(min(id), 0) - 1, ifnull(max(id), -1) FROM alarm_events WHERE at >= @start AND at < @end",
                    row => (row.GetInt64(0), row.GetInt64(1)),
                    ("@start", start),
                    ("@end", end))[0],
                cancellation);
        var condition = "e.id > @after AND e.id <= @last AND e.at >= @start AND e.at < @end" + (number is null ? "" : " AND e.number = @number");
        var sql = string.Create(CultureInfo.InvariantCulture, $"SELECT {AlarmRows.SelectEvent} FROM alarm_events AS e WHERE {condition} ORDER BY e.id LIMIT {Page}");
        while (true)
        {
            var reached = after;
            var page = await AskAsync(
                connection => Rows(connection, sql, row => AlarmRows.ReadEvent(row, 0)!, ("@after", reached), ("@last", last), ("@start", start), ("@end", end), ("@number", number ?? 0)),
                cancellation);
            foreach (var stored in page)
                yield return stored;
            if (page.Count < Page)
                yield break;
            after = page[^1].Id;
        }
    }

    private static List<Alarm> AlarmPage(SqliteConnection connection, AlarmFilter filter, (DateTimeOffset RaisedAt, long Number)? before, int most)
    {
        using var command = connection.CreateCommand();
        var parts = new List<string> { "1" };
        void Add(string part, string name, object value)
        {
            parts.Add(part);
            command.Parameters.AddWithValue(name, value);
        }

        // Written out, so that SQLite sees that the index of the open ones will do.
        if (filter.OnlyOpen)
            parts.Add("a.closed = 0");
        if (filter.Subject is { } subject)
            Add("a.subject = @subject", "@subject", subject);
        if (filter.Rule is { } rule)
            Add("a.rule = @rule", "@rule", rule);
        if (filter.From is { } from)
            Add("a.raised_at >= @from", "@from", from.ToUnixTimeMilliseconds());
        if (filter.To is { } to)
            Add("a.raised_at < @to", "@to", to.ToUnixTimeMilliseconds());
        if (before is { } last)
        {
            Add("(a.raised_at, a.number) < (@lastRaised, @lastNumber)", "@lastRaised", last.RaisedAt.ToUnixTimeMilliseconds());
            command.Parameters.AddWithValue("@lastNumber", last.Number);
        }

        command.CommandText = string.Create(CultureInfo.InvariantCulture, $"SELECT {AlarmRows.SelectAlarm} FROM alarms AS a WHERE {string.Join(" AND ", parts)} ORDER BY a.raised_at DESC, a.number DESC LIMIT {most}");
        return Rows(command, AlarmRows.ReadAlarm);
    }
}
