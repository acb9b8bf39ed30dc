using SawEdge.Core.Cycles;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;

namespace SawEdge.Gateway.Commands;

/// <summary>Passes rows of the table of cycles on and counts them by their outcome.</summary>
/// <param name="source">The rows.</param>
/// <param name="counts">Where they are counted.</param>
internal sealed class CountedOutcomes(IRowSource source, IDictionary<CutOutcome, long> counts) : IRowSource
{
    private readonly int _outcome = source.Head.Columns.Select(column => column.Name).ToList().IndexOf("outcome");

    /// <inheritdoc/>
    public TableHead Head => source.Head;

    /// <inheritdoc/>
    public Task<long?> CountAsync(CancellationToken cancellation) => source.CountAsync(cancellation);

    /// <inheritdoc/>
    public async Task FillAsync(RowBatch batch, CancellationToken cancellation)
    {
        await source.FillAsync(batch, cancellation);
        for (var i = 0; i < batch.Count; i++)
        {
            var outcome = CutOutcomes.Parse(batch.Row(i)[_outcome].Text);
            counts.TryGetValue(outcome, out var count);
            counts[outcome] = count + 1;
        }
    }
}
