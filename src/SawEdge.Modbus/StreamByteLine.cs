using System.IO.Ports;

namespace SawEdge.Modbus;

/// <summary>
/// Bytes over a serial port's own stream, where the system knows no faster way. Its reads cannot be cancelled: one that was given
/// up is kept, and what it brings belongs to the next.
/// </summary>
internal sealed class StreamByteLine(SerialPort port) : IByteLine
{
    private readonly byte[] _buffer = new byte[RtuFrame.MaximumLength];
    private Task<int>? _reading;

    public ValueTask SendAsync(ReadOnlyMemory<byte> bytes, CancellationToken cancellation) => port.BaseStream.WriteAsync(bytes, cancellation);

    public async ValueTask<int> ReceiveAsync(Memory<byte> into, CancellationToken cancellation)
    {
        _reading ??= port.BaseStream.ReadAsync(_buffer, 0, Math.Min(_buffer.Length, into.Length), CancellationToken.None);
        await _reading.WaitAsync(cancellation);
        return Hand(into.Span);
    }

    public int Take(Span<byte> into)
    {
        if (_reading is { IsCompleted: true })
            return Hand(into);

        // A read on its way gets what is there by itself.
        return _reading is null && port.BytesToRead is var there and > 0
            ? port.BaseStream.Read(into[..Math.Min(there, into.Length)])
            : 0;
    }

    public void Dispose() => port.Dispose();

    private int Hand(Span<byte> into)
    {
        var count = _reading!.GetAwaiter().GetResult();
        _reading = null;
        _buffer.AsSpan(0, count).CopyTo(into);
        return count;
    }
}
