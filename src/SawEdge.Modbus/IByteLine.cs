namespace SawEdge.Modbus;

/// <summary>An open way for bytes to and from a line. One caller at a time; what it throws is told by <see cref="RtuTransport.IsLoss"/>.</summary>
internal interface IByteLine : IDisposable
{
    /// <summary>Sends all bytes.</summary>
    ValueTask SendAsync(ReadOnlyMemory<byte> bytes, CancellationToken cancellation);

    /// <summary>Waits for bytes.</summary>
    /// <returns>How many came; 0 where the other side has closed.</returns>
    ValueTask<int> ReceiveAsync(Memory<byte> into, CancellationToken cancellation);

    /// <summary>Takes what is there already, without waiting for more.</summary>
    /// <returns>How many bytes; 0 where nothing is there.</returns>
    ValueTask<int> TakeAsync(Memory<byte> into, CancellationToken cancellation);
}
