using System.Net;
using System.Net.Sockets;

namespace SawEdge.TestSupport;

/// <summary>
/// A connection of this process with itself that sends back what it gets, as fast as a device in this process answers a poll: who lets time pass only
/// after a byte has gone to and fro does not run away from a machine that is held up.
/// </summary>
public sealed class LoopbackEcho : IAsyncDisposable
{
    private readonly Socket _here = new(SocketType.Stream, ProtocolType.Tcp) { NoDelay = true };
    private readonly byte[] _one = new byte[1];
    private Socket? _there;
    private Task _answering = Task.CompletedTask;

    private LoopbackEcho()
    {
    }

    /// <summary>Connects.</summary>
    public static async Task<LoopbackEcho> StartAsync(CancellationToken cancellation = default)
    {
        var echo = new LoopbackEcho();
        using var listener = new TcpListener(IPAddress.Loopback, 0);
        listener.Start();
        await echo._here.ConnectAsync(listener.LocalEndpoint, cancellation);
        echo._there = await listener.AcceptSocketAsync(cancellation);
        echo._there.NoDelay = true;
        echo._answering = AnswerAsync(echo._there);
        return echo;
    }

    /// <summary>Sends a byte and waits until it is back.</summary>
    public async Task GoAndComeAsync(CancellationToken cancellation = default)
    {
        await _here.SendAsync(_one, cancellation);
        if (await _here.ReceiveAsync(_one, cancellation) == 0)
            await _answering;
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        _here.Dispose();
        await _answering;
        _there?.Dispose();
    }

    private static async Task AnswerAsync(Socket socket)
    {
        var one = new byte[1];
        try
        {
            while (await socket.ReceiveAsync(one) > 0)
                await socket.SendAsync(one);
        }
        catch (SocketException)
        {
            // The other end went away with a byte on its way.
        }
    }
}
