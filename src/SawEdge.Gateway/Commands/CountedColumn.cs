using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;

namespace SawEdge.Gateway.Commands;

/// <summary>Passes rows of a table on and tells what one of its columns of texts holds.</summary>
/// <param name="source">The rows.</param>
/// <param name="column">Name of the column.</param>
/// <param name="count">Told the text of each row.</param>
internal sealed class CountedColumn(IRowSource source, string column, Action<string> count) : IRowSource
{
    private readonly int _column = source.Head.Columns.Select(known => known.Name).ToList().IndexOf(column);

    /// <inheritdoc/>
    public TableHead Head => source.Head;

    /// <inheritdoc/>
    public Task<long?> CountAsync(CancellationToken cancellation) => source.CountAsync(cancellation);

    /// <inheritdoc/>
    public async Task FillAsync(RowBatch batch, CancellationToken cancellation)
    {
        await source.FillAsync(batch, cancellation);
        for (var i = 0; i < batch.Count; i++)
            count(batch.Row(i)[_column].Text!);
    }
}
