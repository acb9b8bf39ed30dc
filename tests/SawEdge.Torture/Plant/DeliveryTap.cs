using System.Net;
using System.Net.Sockets;

namespace SawEdge.Torture.Plant;

/// <summary>Stands between the gateway and its destination and says when a delivery is under way; can keep the destination's answers to itself.</summary>
internal sealed class DeliveryTap : IAsyncDisposable
{
    private readonly TcpListener _listener = new(IPAddress.Loopback, 0);
    private readonly CancellationTokenSource _stop = new();
    private readonly Task _accepting;
    private readonly Uri _behind;
    private volatile bool _keepsAnswers;
    private long _asked;
    private long _kept;

    public DeliveryTap(Uri behind)
    {
        _behind = behind;
        _listener.Start();
        _accepting = AcceptAsync();
    }

    /// <summary>Where the gateway delivers to.</summary>
    public Uri Url => new($"http://127.0.0.1:{((IPEndPoint)_listener.LocalEndpoint).Port}");

    /// <summary>Whether answers stay here: the destination has taken the points and the gateway does not know.</summary>
    public bool KeepsAnswers
    {
        get => _keepsAnswers;
        set => _keepsAnswers = value;
    }

    /// <summary>How often something came from the gateway.</summary>
    public long Asked => Interlocked.Read(ref _asked);

    /// <summary>How many answers were kept.</summary>
    public long Kept => Interlocked.Read(ref _kept);

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        await _accepting;
        _listener.Stop();
        _stop.Dispose();
    }

    private async Task AcceptAsync()
    {
        var open = new List<Task>();
        try
        {
            while (true)
            {
                open.Add(ServeAsync(await _listener.AcceptTcpClientAsync(_stop.Token)));
                open.RemoveAll(task => task.IsCompleted);
            }
        }
        catch (Exception e) when (e is OperationCanceledException or SocketException or ObjectDisposedException)
        {
            await Task.WhenAll(open);
        }
    }

    private async Task ServeAsync(TcpClient client)
    {
        using (client)
        using (var server = new TcpClient())
        {
            try
            {
                await server.ConnectAsync(_behind.Host, _behind.Port, _stop.Token);
                await Task.WhenAny(PassAsync(client, server, isAnswer: false), PassAsync(server, client, isAnswer: true));
            }
            catch (Exception e) when (e is OperationCanceledException or SocketException or IOException)
            {
                // One of the two sides has gone, as a killed gateway does: both connections end.
            }
        }
    }

    private async Task PassAsync(TcpClient from, TcpClient to, bool isAnswer)
    {
        var buffer = new byte[16 * 1024];
        int count;
        while ((count = await from.GetStream().ReadAsync(buffer, _stop.Token)) > 0)
        {
            if (isAnswer && _keepsAnswers)
            {
                Interlocked.Increment(ref _kept);
                continue;
            }

            if (!isAnswer)
                Interlocked.Increment(ref _asked);
            await to.GetStream().WriteAsync(buffer.AsMemory(0, count), _stop.Token);
        }
    }
}
