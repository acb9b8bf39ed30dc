using System.Globalization;
using Microsoft.Data.Sqlite;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Formats.Tables;

namespace SawEdge.Gateway.History;

/// <content>Whole tables, batch by batch, in chosen columns: the fast way out for exports.</content>
public sealed partial class HistoryReader
{
    /// <summary>Where only a look at each cycle tells whether it is wanted, a statement looks at so many at most: it can be broken off, and holds no snapshot for long.</summary>
    internal int Stretch { get; init; } = 20_000;

    /// <summary>Fills a batch with cycles in the order of their keys.</summary>
    /// <param name="batch">The batch; rows are added until it is full.</param>
    /// <param name="filter">Which cycles.</param>
    /// <param name="columns">The columns of <c>cycles</c>, by name, in the batch's order.</param>
    /// <param name="cells">Reads these columns.</param>
    /// <param name="after">The place after which to begin; null: at the first.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <returns>The place after which to go on; null where nothing follows.</returns>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    internal Task<CycleKey?> FillCyclesAsync(RowBatch batch, CycleFilter filter, IReadOnlyList<string> columns, CellReader cells, CycleKey? after, CancellationToken cancellation) =>
        FillByCycleAsync(
            batch.Capacity - batch.Count,
            filter,
            string.Join(", ", columns.Select(column => "c." + column)),
            "",
            row => cells.Read(row, KeyColumns, batch.Add()),
            after,
            cancellation);

    /// <summary>Reads profiles in the order of the keys of their cycles.</summary>
    /// <param name="filter">Which cycles.</param>
    /// <param name="columns">The columns of <c>cycles</c> that go with each.</param>
    /// <param name="cells">Reads these columns.</param>
    /// <param name="after">The place after which to begin; null: at the first.</param>
    /// <param name="most">Profiles at most.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <returns>The profiles, and the place after which to go on; null where nothing follows.</returns>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    internal async Task<(List<(Cell[] Cycle, DepthProfile Profile)> Profiles, CycleKey? Next)> ProfilePageAsync(CycleFilter filter, IReadOnlyList<string> columns, CellReader cells, CycleKey? after, int most, CancellationToken cancellation)
    {
        var profiles = new List<(Cell[], DepthProfile)>(most);
        var next = await FillByCycleAsync(
            most,
            filter,
            string.Join(", ", columns.Select(column => "c." + column).Prepend("p.data")),
            "JOIN profiles AS p ON p.cycle = c.id",
            row =>
            {
                var cycle = new Cell[columns.Count];
                cells.Read(row, KeyColumns + 1, cycle);
                profiles.Add((cycle, Profile(row)));
            },
            after,
            cancellation);
        return (profiles, next);
    }

    /// <summary>How many cycles there are; null where only a look at each would tell.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    internal async Task<long?> CountIndexedAsync(CycleFilter filter, CancellationToken cancellation) =>
        CycleConditions.LooksAtEach(filter) ? null : await CountAsync(filter, cancellation);

    /// <summary>The statement of a page, for the tests of its plan.</summary>
    internal static string CycleStatement(SqliteCommand command, CycleFilter filter, string select, string join, CycleKey? after, long? before, int most)
    {
        var parts = CycleConditions.Leading(filter, command);
        if (after is { } last)
        {
            // The place lies in the filter's time: of two lower limits SQLite would use whichever it likes.
            parts.Add("c.started_at >= @afterStart AND (c.started_at, c.saw, c.cycle_id) > (@afterStart, @afterSaw, @afterId)");
            command.Parameters.AddWithValue("@afterStart", last.StartedAt);
            command.Parameters.AddWithValue("@afterSaw", last.Saw);
            command.Parameters.AddWithValue("@afterId", last.CycleId);
        }
        else if (filter.From is { } from)
        {
            parts.Add("c.started_at >= @from");
            command.Parameters.AddWithValue("@from", from.ToUnixTimeMilliseconds());
        }

        if ((before ?? filter.To?.ToUnixTimeMilliseconds()) is { } to)
        {
            parts.Add("c.started_at < @to");
            command.Parameters.AddWithValue("@to", to);
        }

        CycleConditions.Looked(parts, filter, command);
        return string.Create(CultureInfo.InvariantCulture, $"SELECT c.started_at, c.saw, c.cycle_id, {select} FROM cycles AS c {join} WHERE {string.Join(" AND ", parts)} ORDER BY c.started_at, c.saw, c.cycle_id LIMIT {most}");
    }

    /// <summary>The statement that finds the end of a stretch, for the tests of its plan.</summary>
    internal static string StretchStatement(SqliteCommand command, CycleFilter filter, CycleKey? after, int stretch)
    {
        var parts = CycleConditions.Leading(filter, command);
        parts.Add("c.started_at >= @from");
        command.Parameters.AddWithValue("@from", after?.StartedAt ?? filter.From?.ToUnixTimeMilliseconds() ?? long.MinValue);
        return string.Create(CultureInfo.InvariantCulture, $"SELECT c.started_at FROM cycles AS c WHERE {string.Join(" AND ", parts)} ORDER BY c.started_at LIMIT 1 OFFSET {stretch}");
    }

    private const int KeyColumns = 3;

    private Task<CycleKey?> FillByCycleAsync(int most, CycleFilter filter, string select, string join, Action<SqliteDataReader> add, CycleKey? after, CancellationToken cancellation) =>
        AskAsync(
            connection =>
            {
                for (var place = after; ;)
                {
                    cancellation.ThrowIfCancellationRequested();
                    var end = CycleConditions.LooksAtEach(filter) ? StretchEnd(connection, filter, place) : null;
                    using var command = connection.CreateCommand();
                    command.CommandText = CycleStatement(command, filter, select, join, place, end, most);
                    using var row = command.ExecuteReader();
                    for (; most > 0 && row.Read(); most--)
                    {
                        add(row);
                        if (most == 1)
                            return new CycleKey(row.GetInt64(0), row.GetString(1), row.GetString(2));
                    }

                    if (end is null || most == 0)
                        return (CycleKey?)null;
                    place = new CycleKey(end.Value, "", "");
                }
            },
            cancellation);

    private DepthProfile Profile(SqliteDataReader row)
    {
        try
        {
            return ProfileCodec.Decode((byte[])row[KeyColumns]);
        }
        catch (InvalidDataException e)
        {
            throw new HistoryException($"The history '{_path}' cannot be read: the profile of cycle {row.GetString(2)}: {e.Message}", e);
        }
    }

    // A cycle that starts then is the first that no longer belongs to it. Null: it goes on to the end.
    private long? StretchEnd(SqliteConnection connection, CycleFilter filter, CycleKey? place)
    {
        using var command = connection.CreateCommand();
        command.CommandText = StretchStatement(command, filter, place, Stretch);
        var end = (long?)command.ExecuteScalar();
        return end <= place?.StartedAt || end >= filter.To?.ToUnixTimeMilliseconds() ? null : end;
    }
}
