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

    // Asynchronous although it does not wait: the runtime refuses a synchronous call while one that was given up is not quite gone.
    public ValueTask<int> TakeAsync(Memory<byte> into, CancellationToken cancellation) => socket.Available > 0 ? ReceiveAsync(into, cancellation) : ValueTask.FromResult(0);

    public void Dispose()
    {
        socket.Dispose();
        owner?.Dispose();
    }
}
