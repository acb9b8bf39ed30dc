using SawEdge.Core;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;

namespace SawEdge.Gateway.Tests.Export;

/// <summary>The table of some cycles without a history.</summary>
internal sealed class ListedCycles(IEnumerable<CycleRecord> cycles) : IRowSource
{
    private readonly Queue<CycleRecord> _left = new(cycles);

    public TableHead Head { get; } = new("cycles", ExportTables.Cycles.Meaning, ExportTables.Cycles.Columns);

    public Task<long?> CountAsync(CancellationToken cancellation) => Task.FromResult<long?>(null);

    public Task FillAsync(RowBatch batch, CancellationToken cancellation)
    {
        while (!batch.IsFull && _left.TryDequeue(out var cycle))
        {
            var row = batch.Add();
            foreach (var (index, column) in CycleColumns.All.Index())
            {
                row[index] = column.Get(cycle) switch
                {
                    string text => Cell.Of(text),
                    double number => Cell.Of(number),
                    long whole => Cell.Of(whole),
                    DateTimeOffset time => Cell.Of(time),
                    _ => default,
                };
            }
        }

        return Task.CompletedTask;
    }
}
