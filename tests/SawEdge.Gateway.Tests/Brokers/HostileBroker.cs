using System.Net;
using System.Net.Sockets;
using System.Text;

namespace SawEdge.Gateway.Tests.Brokers;

/// <summary>A broker over a bare socket that does what a script says with each connection.</summary>
internal sealed class HostileBroker : IAsyncDisposable
{
    /// <summary>MQTT 5.0, 3.2: accepted, no session, no properties.</summary>
    public static readonly byte[] Accepted = [0x20, 3, 0, 0, 0];

    private readonly TcpListener _listener = new(IPAddress.Loopback, 0);
    private readonly CancellationTokenSource _stop = new();
    private readonly Func<NetworkStream, CancellationToken, Task> _script;
    private readonly Task _accepting;
    private int _connections;

    public HostileBroker(Func<NetworkStream, CancellationToken, Task> script)
    {
        _script = script;
        _listener.Start();
        _accepting = AcceptAsync();
    }

    public int Port => ((IPEndPoint)_listener.LocalEndpoint).Port;

    /// <summary>Connections so far.</summary>
    public int Connections => Volatile.Read(ref _connections);

    /// <summary>Reads CONNECT, accepts, reads SUBSCRIBE and grants one topic.</summary>
    public static async Task WelcomeAsync(NetworkStream stream, CancellationToken stop)
    {
        await ReadPacketAsync(stream, stop);
        await stream.WriteAsync(Accepted, stop);
        var subscribe = await ReadPacketAsync(stream, stop);
        await stream.WriteAsync(new byte[] { 0x90, 4, subscribe[0], subscribe[1], 0, 1 }, stop);
    }

    /// <summary>Reads one packet.</summary>
    /// <returns>What stands behind its length.</returns>
    public static async Task<byte[]> ReadPacketAsync(NetworkStream stream, CancellationToken stop)
    {
        var one = new byte[1];
        await stream.ReadExactlyAsync(one, stop);
        var (length, shift) = (0, 0);
        do
        {
            await stream.ReadExactlyAsync(one, stop);
            length |= (one[0] & 0x7F) << shift;
            shift += 7;
        }
        while ((one[0] & 0x80) != 0);
        var body = new byte[length];
        await stream.ReadExactlyAsync(body, stop);
        return body;
    }

    /// <summary>A message of version 5, quality of service 0 (3.3).</summary>
    public static byte[] Message(string topic, string payload)
    {
        var name = Encoding.UTF8.GetBytes(topic);
        byte[] body = [(byte)(name.Length >> 8), (byte)name.Length, .. name, 0, .. Encoding.UTF8.GetBytes(payload)];
        var length = new List<byte>();
        for (var rest = body.Length; ; rest >>= 7)
        {
            length.Add((byte)((rest & 0x7F) | (rest > 0x7F ? 0x80 : 0)));
            if (rest <= 0x7F)
                return [0x30, .. length, .. body];
        }
    }

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        await _accepting;
        _listener.Stop();
        _stop.Dispose();
    }

    private async Task AcceptAsync()
    {
        var running = new List<Task>();
        try
        {
            while (true)
            {
                var client = await _listener.AcceptTcpClientAsync(_stop.Token);
                Interlocked.Increment(ref _connections);
                running.Add(ServeAsync(client));
            }
        }
        catch (Exception e) when (e is OperationCanceledException or SocketException)
        {
            // It is over.
        }

        await Task.WhenAll(running);
    }

    private async Task ServeAsync(TcpClient client)
    {
        using (client)
        {
            try
            {
                await _script(client.GetStream(), _stop.Token);
            }
            catch (Exception e) when (e is OperationCanceledException or IOException or EndOfStreamException)
            {
                // The gateway turned away, as it should.
            }
        }
    }
}
