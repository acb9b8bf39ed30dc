using System.Net.Sockets;
using System.Runtime.CompilerServices;

namespace SawEdge.Modbus;

/// <summary>Bytes over a socket, or over what the system lets be used like one.</summary>
/// <param name="socket">The socket; ended with this.</param>
/// <param name="owner">What stands behind it and is ended after it.</param>
internal sealed class SocketByteLine(Socket socket, IDisposable? owner = null) : IByteLine
{
    [AsyncMethodBuilder(typeof(PoolingAsyncValueTaskMethodBuilder))]
    public async ValueTask SendAsync(ReadOnlyMemory<byte> bytes, CancellationToken cancellation)
    {
        for (var sent = 0; sent < bytes.Length;)
            sent += await socket.SendAsync(bytes[sent..], SocketFlags.None, cancellation);
    }

    public ValueTask<int> ReceiveAsync(Memory<byte> into, CancellationToken cancellation) => socket.ReceiveAsync(into, SocketFlags.None, cancellation);

    public int Take(Span<byte> into) => socket.Available is var available and > 0 ? socket.Receive(into[..Math.Min(available, into.Length)]) : 0;

    public void Dispose()
    {
        socket.Dispose();
        owner?.Dispose();
    }
}
