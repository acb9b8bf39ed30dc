using System.Globalization;
using Microsoft.Data.Sqlite;
using SawEdge.Core;
using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.History;

/// <content>Single pages of cycles and alarms, for those who turn pages by themselves.</content>
public sealed partial class HistoryReader
{
    /// <summary>One page of the cycles of a filter.</summary>
    /// <param name="filter">Which cycles.</param>
    /// <param name="latestFirst">Whether the latest come first; otherwise the earliest.</param>
    /// <param name="after">The place after which the page begins; null: at the first.</param>
    /// <param name="most">Cycles at most.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <returns>The page, and the place after which the next one begins; null where nothing follows.</returns>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<(IReadOnlyList<CycleRecord> Cycles, CyclePlace? Next)> CyclePageAsync(CycleFilter filter, bool latestFirst, CyclePlace? after, int most, CancellationToken cancellation = default) =>
        AskAsync<(IReadOnlyList<CycleRecord>, CyclePlace?)>(
            connection =>
            {
                // One more than asked for: whether anything follows.
                var rows = CyclePage(connection, filter, latestFirst, after, most + 1);
                if (rows.Count <= most)
                    return ([.. rows.Select(row => row.Record)], null);
                var last = rows[most - 1];
                return ([.. rows.Take(most).Select(row => row.Record)], new CyclePlace(last.Record.StartedAt, last.Record.Saw, last.Id));
            },
            cancellation);

    /// <summary>The cycles before and after one on the same saw; null where there is none.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<(string? Previous, string? Next)> NeighboursAsync(string cycleId, CancellationToken cancellation = default) =>
        AskAsync(
            connection =>
            {
                string? One(string order) => Rows(
                    connection,
                    $"SELECT o.cycle_id FROM cycles AS c JOIN cycles AS o ON o.saw = c.saw AND (o.started_at, o.id) {(order == "DESC" ? "<" : ">")} (c.started_at, c.id) WHERE c.cycle_id = @id ORDER BY o.started_at {order}, o.id {order} LIMIT 1",
                    row => row.GetString(0),
                    ("@id", cycleId)).FirstOrDefault();
                return (One("DESC"), One("ASC"));
            },
            cancellation);

    /// <summary>When the first and the last cycle of all saws started; null where there is none.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<(DateTimeOffset First, DateTimeOffset Last)?> CycleStartsAsync(CancellationToken cancellation = default) =>
        AskAsync(
            connection => Rows(
                connection,
                "SELECT (SELECT min(started_at) FROM cycles), (SELECT max(started_at) FROM cycles)",
                row => row.IsDBNull(0) ? ((DateTimeOffset, DateTimeOffset)?)null : (Time(row.GetInt64(0)), Time(row.GetInt64(1))))[0],
            cancellation);

    /// <summary>The last cycle of each saw that has one.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyDictionary<string, CycleRecord>> LastCyclesAsync(IEnumerable<string> saws, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyDictionary<string, CycleRecord>>(
            connection =>
            {
                using var command = connection.CreateCommand();
                command.CommandText = $"SELECT {CycleRows.Select} FROM cycles AS c WHERE c.saw = @saw ORDER BY c.started_at DESC, c.id DESC LIMIT 1";
                var name = command.Parameters.Add("@saw", SqliteType.Text);
                var found = new Dictionary<string, CycleRecord>(StringComparer.Ordinal);
                foreach (var saw in saws)
                {
                    name.Value = saw;
                    if (Rows(command, row => CycleRows.Read(row, 0)) is [var cycle])
                        found[saw] = cycle;
                }

                return found;
            },
            cancellation);

    /// <summary>One page of occurrences, the latest first.</summary>
    /// <param name="filter">Which.</param>
    /// <param name="before">The place after which the page begins: when the last one was raised, and its number; null: at the first.</param>
    /// <param name="most">Occurrences at most.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="InvalidDataException">What is stored is none that this program knows.</exception>
    public Task<IReadOnlyList<Alarm>> AlarmPageAsync(AlarmFilter filter, (DateTimeOffset RaisedAt, long Number)? before, int most, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<Alarm>>(connection => AlarmPage(connection, filter, before, most), cancellation);

    private static List<(CycleRecord Record, long Id)> CyclePage(SqliteConnection connection, CycleFilter filter, bool latestFirst, CyclePlace? after, int most)
    {
        using var command = connection.CreateCommand();
        var condition = CycleConditions.All(after is { } place ? Nearer(filter, latestFirst, place) : filter, command);
        var (order, beyond) = latestFirst ? ("DESC", "<") : ("ASC", ">");
        if (after is { } last)
        {
            condition += $" AND (c.started_at, c.saw, c.id) {beyond} (@afterStart, @afterSaw, @afterId)";
            command.Parameters.AddWithValue("@afterStart", last.StartedAt.ToUnixTimeMilliseconds());
            command.Parameters.AddWithValue("@afterSaw", last.Saw);
            command.Parameters.AddWithValue("@afterId", last.Id);
        }

        command.CommandText = string.Create(CultureInfo.InvariantCulture, $"SELECT c.id, {CycleRows.Select} FROM cycles AS c WHERE {condition} ORDER BY c.started_at {order}, c.saw {order}, c.id {order} LIMIT {most}");
        return Rows(command, row => (CycleRows.Read(row, 1), row.GetInt64(0)));
    }

    // Of two limits on the same side SQLite takes whichever comes first, and would begin each page at the period's: the nearer one alone is told.
    private static CycleFilter Nearer(CycleFilter filter, bool latestFirst, CyclePlace place)
    {
        if (!latestFirst)
            return filter.From > place.StartedAt ? filter : filter with { From = place.StartedAt };
        var end = place.StartedAt.AddMilliseconds(1);
        return filter.To < end ? filter : filter with { To = end };
    }
}
