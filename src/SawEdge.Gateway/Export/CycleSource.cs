using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Export;

/// <summary>Cycles out of the history.</summary>
/// <param name="reader">The history.</param>
/// <param name="head">The table in the columns that were asked for.</param>
/// <param name="filter">Which cycles.</param>
internal sealed class CycleSource(HistoryReader reader, TableHead head, CycleFilter filter) : IRowSource
{
    private readonly string[] _columns = [.. head.Columns.Select(column => column.Name)];
    private readonly CellReader _cells = new([.. head.Columns.Select(column => column.Type)]);
    private CycleKey? _place;
    private bool _ended;

    /// <inheritdoc/>
    public TableHead Head => head;

    /// <inheritdoc/>
    public Task<long?> CountAsync(CancellationToken cancellation) => reader.CountIndexedAsync(filter, cancellation);

    /// <inheritdoc/>
    public async Task FillAsync(RowBatch batch, CancellationToken cancellation)
    {
        if (_ended)
            return;
        _place = await reader.FillCyclesAsync(batch, filter, _columns, _cells, _place, cancellation);
        _ended = _place is null;
    }
}
