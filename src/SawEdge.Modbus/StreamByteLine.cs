using System.IO.Ports;

namespace SawEdge.Modbus;

/// <summary>
/// Bytes over a serial port's own stream, where the system knows no faster way. Its reads cannot be cancelled: one that was given
/// up is kept, and what it brings belongs to the next.
/// </summary>
internal sealed class StreamByteLine(SerialPort port) : IByteLine
{
    private readonly Stream _stream = port.BaseStream;
    private readonly byte[] _buffer = new byte[RtuFrame.MaximumLength];
    private Task<int>? _reading;

    public ValueTask SendAsync(ReadOnlyMemory<byte> bytes, CancellationToken cancellation) => _stream.WriteAsync(bytes, cancellation);

    public async ValueTask<int> ReceiveAsync(Memory<byte> into, CancellationToken cancellation)
    {
        _reading ??= _stream.ReadAsync(_buffer, 0, _buffer.Length, CancellationToken.None);
        await _reading.WaitAsync(cancellation);
        return Hand(into.Span);
    }

    public ValueTask<int> TakeAsync(Memory<byte> into, CancellationToken cancellation)
    {
        ObjectDisposedException.ThrowIf(!port.IsOpen, port);

        // A read that was given up gets what is there by itself.
        if (_reading is not null)
            return ValueTask.FromResult(_reading.IsCompleted ? Hand(into.Span) : 0);
        return port.BytesToRead > 0 ? ReceiveAsync(into, cancellation) : ValueTask.FromResult(0);
    }

    public void Dispose() => port.Dispose();

    private int Hand(Span<byte> into)
    {
        // Everybody has room for a frame of the greatest length.
        var count = _reading!.GetAwaiter().GetResult();
        _reading = null;
        _buffer.AsSpan(0, count).CopyTo(into);
        return count;
    }
}
