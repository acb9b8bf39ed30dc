using Microsoft.Data.Sqlite;
using SawEdge.Core;
using SawEdge.Core.Oee;

namespace SawEdge.Gateway.History;

/// <content>What saws did.</content>
public sealed partial class HistoryReader
{
    // Cycles of a saw do not overlap: of those that began before, only the last can reach in.
    private const string CyclesTouching = "c.saw = @saw AND c.started_at < @to AND c.ended_at > @from AND c.started_at >= ifnull((SELECT max(started_at) FROM cycles WHERE saw = @saw AND started_at <= @from), @from)";

    /// <summary>The segments of a saw that touch a period, whole, in order. What none of them tells was not seen.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="period">The period.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyList<StateSegment>> StatesAsync(string saw, Period period, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<StateSegment>>(connection => States(connection, saw, period), cancellation);

    /// <summary>The last segment of a saw; null where there is none.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<StateSegment?> LastStateAsync(string saw, CancellationToken cancellation = default) =>
        AskAsync(
            connection => Rows(connection, $"SELECT {StateRows.Select} FROM states WHERE saw = @saw ORDER BY started_at DESC LIMIT 1", StateRows.Read, ("@saw", saw)).FirstOrDefault(),
            cancellation);

    /// <summary>The cycles of a saw that touch a period, in order.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="period">The period.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyList<CycleRecord>> CyclesInAsync(string saw, Period period, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<CycleRecord>>(
            connection => Rows(
                connection,
                $"SELECT {CycleRows.Select} FROM cycles AS c WHERE {CyclesTouching} ORDER BY c.started_at, c.id",
                row => CycleRows.Read(row, 0),
                ("@saw", saw),
                ("@from", period.From.ToUnixTimeMilliseconds()),
                ("@to", StateRows.Milliseconds(period.To))),
            cancellation);

    private static List<StateSegment> States(SqliteConnection connection, string saw, Period period) =>
        Rows(
            connection,
            $"SELECT {StateRows.Select} FROM states WHERE saw = @saw AND started_at < @to AND ended_at > @from AND started_at >= ifnull((SELECT max(started_at) FROM states WHERE saw = @saw AND started_at <= @from), @from) ORDER BY started_at",
            StateRows.Read,
            ("@saw", saw),
            ("@from", period.From.ToUnixTimeMilliseconds()),
            ("@to", StateRows.Milliseconds(period.To)));
}
