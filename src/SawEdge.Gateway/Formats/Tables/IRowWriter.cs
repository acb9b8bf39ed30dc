namespace SawEdge.Gateway.Formats.Tables;

/// <summary>
/// Writes a table in one format to a stream that it leaves open. Batches come in order, then <see cref="FinishAsync"/> once; where that was not
/// called, what was written is no whole table. Disposing writes nothing.
/// </summary>
public interface IRowWriter : IAsyncDisposable
{
    /// <summary>Writes some rows. The batch is free to be used again once this is done.</summary>
    Task WriteAsync(RowBatch batch, CancellationToken cancellation);

    /// <summary>Writes what stands at the end, and everything to the stream.</summary>
    Task FinishAsync(CancellationToken cancellation);
}
