using System.Runtime.CompilerServices;

namespace SawEdge.Gateway.History;

/// <content>Cuts with what the load score says of them.</content>
public sealed partial class HistoryReader
{
    /// <summary>The cycles of a saw with what the load score says of them, ordered by their start, page by page.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="from">Only cycles that started at this moment or later; null: from the first.</param>
    /// <param name="to">Only cycles that started before this moment; null: to the last.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="InvalidDataException">What is stored is no assessment of a known version.</exception>
    public async IAsyncEnumerable<AssessedCut> AssessedCutsAsync(string saw, DateTimeOffset? from, DateTimeOffset? to, [EnumeratorCancellation] CancellationToken cancellation = default)
    {
        var (start, id) = (from?.ToUnixTimeMilliseconds() ?? long.MinValue, long.MinValue);
        while (true)
        {
            var (nextStart, afterId) = (start, id);
            var page = await AskAsync(
                connection => Rows(
                    connection,
                    $"SELECT a.data, {CycleRows.Select}, c.id FROM cycles AS c LEFT JOIN assessments AS a ON a.cycle = c.id WHERE c.saw = @saw AND (c.started_at, c.id) > (@start, @id) AND c.started_at < @to ORDER BY c.started_at, c.id LIMIT {Page}",
                    row => (Cut: new AssessedCut(CycleRows.Read(row, 1), row.IsDBNull(0) ? null : AssessmentCodec.Decode((byte[])row[0])), Id: row.GetInt64(row.FieldCount - 1)),
                    ("@saw", saw),
                    ("@start", nextStart),
                    ("@id", afterId),
                    ("@to", to?.ToUnixTimeMilliseconds() ?? long.MaxValue)),
                cancellation);
            foreach (var (cut, _) in page)
                yield return cut;
            if (page.Count < Page)
                yield break;
            (start, id) = (page[^1].Cut.Record.StartedAt.ToUnixTimeMilliseconds(), page[^1].Id);
        }
    }
}
