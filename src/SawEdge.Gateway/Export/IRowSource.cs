using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Export;

/// <summary>A table of the history that can be read from its beginning to its end, once.</summary>
public interface IRowSource
{
    /// <summary>What it is, in the columns that were asked for.</summary>
    TableHead Head { get; }

    /// <summary>How many rows there will be, about; null where that would take as long as to read them.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    Task<long?> CountAsync(CancellationToken cancellation);

    /// <summary>Reads the next rows into an empty batch; none are left where it stays empty. Each call is a read transaction of its own.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    Task FillAsync(RowBatch batch, CancellationToken cancellation);
}
