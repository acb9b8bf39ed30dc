using System.Globalization;
using System.Text.Json;
using Microsoft.Data.Sqlite;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Formats.Tables;

namespace SawEdge.Gateway.History;

/// <summary>A place in the order in which states are exported.</summary>
/// <param name="Saw">The saw.</param>
/// <param name="StartedAt">Begin of the stretch there, ms since 1970; null: before its first.</param>
internal readonly record struct StatePlace(string Saw, long? StartedAt);

/// <content>States and alarms, batch by batch.</content>
public sealed partial class HistoryReader
{
    // Written like this, the first segment that reaches into a period is found by one step down the index.
    private const string StatesFrom = "started_at >= ifnull((SELECT max(started_at) FROM states WHERE saw = @saw AND started_at <= @from), @from) AND ended_at > @from";

    /// <summary>The next segments of a saw, or of the next saw that has any, and the reasons that people gave for their time, in the order in which they were entered.</summary>
    /// <param name="saws">Only these; null: all.</param>
    /// <param name="jobs">Only with these jobs; null: all.</param>
    /// <param name="from">Only what reaches beyond this moment; null: from the beginning.</param>
    /// <param name="to">Only what begins before this moment; null: to the end.</param>
    /// <param name="place">Where to go on; null: at the first.</param>
    /// <param name="most">Segments at most.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <returns>The saw, its segments and reasons, and where to go on; null where nothing follows.</returns>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    internal Task<(string Saw, List<StateSegment> Segments, IReadOnlyList<StopReason> Reasons, StatePlace? Next)> StatePageAsync(
        IReadOnlyCollection<string>? saws, IReadOnlyCollection<string>? jobs, DateTimeOffset? from, DateTimeOffset? to, StatePlace? place, int most, CancellationToken cancellation) =>
        AskAsync(
            connection =>
            {
                // States and reasons of the same moment.
                using var transaction = connection.BeginTransaction(deferred: true);
                for (var at = place ?? NextSaw(connection, saws, null); at is { } here; at = NextSaw(connection, saws, here.Saw))
                {
                    cancellation.ThrowIfCancellationRequested();
                    using var command = connection.CreateCommand();
                    command.CommandText = StateStatement(command, jobs, from, to, here, most);
                    var segments = Rows(command, StateRows.Read);
                    if (segments.Count == 0)
                        continue;
                    var reasons = StopReasonsIn(connection, here.Saw, new Period(segments[0].From, segments[^1].To));
                    var next = segments.Count == most ? new StatePlace(here.Saw, segments[^1].From.ToUnixTimeMilliseconds()) : NextSaw(connection, saws, here.Saw);
                    return (here.Saw, segments, (IReadOnlyList<StopReason>)reasons, next);
                }

                return ("", [], [], null);
            },
            cancellation);

    /// <summary>How many segments there are; those of jobs would have to be looked at, and are not counted.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    internal Task<long> CountStatesAsync(IReadOnlyCollection<string>? saws, DateTimeOffset? from, DateTimeOffset? to, CancellationToken cancellation) =>
        AskAsync(
            connection =>
            {
                var count = 0L;
                for (var at = NextSaw(connection, saws, null); at is { } here; at = NextSaw(connection, saws, here.Saw))
                {
                    using var command = connection.CreateCommand();
                    command.CommandText = $"SELECT count(*) FROM states WHERE {StateCondition(command, null, from, to, here)}";
                    count += (long)command.ExecuteScalar()!;
                }

                return count;
            },
            cancellation);

    /// <summary>The statement of a page of segments, for the tests of its plan.</summary>
    internal static string StateStatement(SqliteCommand command, IReadOnlyCollection<string>? jobs, DateTimeOffset? from, DateTimeOffset? to, StatePlace place, int most) =>
        string.Create(CultureInfo.InvariantCulture, $"SELECT {StateRows.Select} FROM states WHERE {StateCondition(command, jobs, from, to, place)} ORDER BY started_at LIMIT {most}");

    /// <summary>Fills a batch with occurrences in the order of their raising, then of their numbers.</summary>
    /// <param name="batch">The batch; rows are added until it is full.</param>
    /// <param name="question">Which, see <see cref="AlarmStatement"/>.</param>
    /// <param name="select">What to select of <c>alarms AS a</c>, in the batch's order.</param>
    /// <param name="cells">Reads these columns.</param>
    /// <param name="after">The place after which to begin; null: at the first.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <returns>The place after which to go on; null where nothing follows.</returns>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    internal Task<(long RaisedAt, long Number)?> FillAlarmsAsync(RowBatch batch, (IReadOnlyCollection<string>? Saws, DateTimeOffset? From, DateTimeOffset? To) question, string select, CellReader cells, (long RaisedAt, long Number)? after, CancellationToken cancellation) =>
        AskAsync(
            connection =>
            {
                using var command = connection.CreateCommand();
                command.CommandText = AlarmStatement(command, question, select, after, batch.Capacity - batch.Count);
                using var row = command.ExecuteReader();
                while (row.Read())
                {
                    cells.Read(row, 2, batch.Add());
                    if (batch.IsFull)
                        return ((long, long)?)(row.GetInt64(0), row.GetInt64(1));
                }

                return null;
            },
            cancellation);

    /// <summary>How many occurrences there are.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    internal Task<long> CountAlarmsAsync((IReadOnlyCollection<string>? Saws, DateTimeOffset? From, DateTimeOffset? To) question, CancellationToken cancellation) =>
        AskAsync(
            connection =>
            {
                using var command = connection.CreateCommand();
                command.CommandText = $"SELECT count(*) FROM alarms AS a WHERE {AlarmCondition(command, question, null)}";
                return (long)command.ExecuteScalar()!;
            },
            cancellation);

    /// <summary>The statement of a page of occurrences, for the tests of its plan.</summary>
    internal static string AlarmStatement(SqliteCommand command, (IReadOnlyCollection<string>? Saws, DateTimeOffset? From, DateTimeOffset? To) question, string select, (long RaisedAt, long Number)? after, int most) =>
        string.Create(CultureInfo.InvariantCulture, $"SELECT a.raised_at, a.number, {select} FROM alarms AS a WHERE {AlarmCondition(command, question, after)} ORDER BY a.raised_at, a.number LIMIT {most}");

    private static StatePlace? NextSaw(SqliteConnection connection, IReadOnlyCollection<string>? saws, string? after)
    {
        // SQLite compares texts by their bytes, .NET by their UTF-16: only SQLite is to say what comes next.
        var source = saws is null ? "states" : "(SELECT value AS saw FROM json_each(@saws))";
        var found = Rows(
            connection,
            $"SELECT min(saw) FROM {source} WHERE {(after is null ? "1" : "saw > @after")} HAVING min(saw) IS NOT NULL",
            row => (StatePlace?)new StatePlace(row.GetString(0), null),
            ("@after", after ?? ""),
            ("@saws", JsonSerializer.Serialize(saws ?? [])));
        return found.FirstOrDefault();
    }

    private static string StateCondition(SqliteCommand command, IReadOnlyCollection<string>? jobs, DateTimeOffset? from, DateTimeOffset? to, StatePlace place)
    {
        var parts = new List<string> { "saw = @saw" };
        command.Parameters.AddWithValue("@saw", place.Saw);
        if (place.StartedAt is { } last)
        {
            parts.Add("started_at > @last");
            command.Parameters.AddWithValue("@last", last);
        }
        else if (from is { } begin)
        {
            parts.Add(StatesFrom);
            command.Parameters.AddWithValue("@from", begin.ToUnixTimeMilliseconds());
        }

        if (to is { } end)
        {
            parts.Add("started_at < @to");
            command.Parameters.AddWithValue("@to", StateRows.Milliseconds(end));
        }

        if (jobs is not null)
        {
            parts.Add("job IN (SELECT value FROM json_each(@jobs))");
            command.Parameters.AddWithValue("@jobs", JsonSerializer.Serialize(jobs));
        }

        return string.Join(" AND ", parts);
    }

    private static string AlarmCondition(SqliteCommand command, (IReadOnlyCollection<string>? Saws, DateTimeOffset? From, DateTimeOffset? To) question, (long RaisedAt, long Number)? after)
    {
        var parts = new List<string> { "a.raised_at >= @from" };
        command.Parameters.AddWithValue("@from", after?.RaisedAt ?? question.From?.ToUnixTimeMilliseconds() ?? long.MinValue);
        if (after is { } last)
        {
            parts.Add("(a.raised_at, a.number) > (@from, @number)");
            command.Parameters.AddWithValue("@number", last.Number);
        }

        if (question.To is { } to)
        {
            parts.Add("a.raised_at < @to");
            command.Parameters.AddWithValue("@to", to.ToUnixTimeMilliseconds());
        }

        if (question.Saws is not null)
        {
            parts.Add("a.subject_kind = 'saw' AND a.subject IN (SELECT value FROM json_each(@saws))");
            command.Parameters.AddWithValue("@saws", JsonSerializer.Serialize(question.Saws));
        }

        return string.Join(" AND ", parts);
    }
}
