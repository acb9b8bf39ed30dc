using System.Net;
using System.Net.Sockets;

namespace SawEdge.EndToEnd.Tests.Support;

/// <summary>Stands before a Modbus device and can fall silent: connections are taken, requests are read, and nothing comes back.</summary>
internal sealed class MutableDevice : IAsyncDisposable
{
    private readonly TcpListener _listener = new(IPAddress.Loopback, 0);
    private readonly CancellationTokenSource _stop = new();
    private readonly Task _accepting;
    private readonly int _behind;
    private volatile bool _silent;
    private long _swallowed;

    public MutableDevice(int behind, bool silent)
    {
        _behind = behind;
        _silent = silent;
        _listener.Start();
        _accepting = AcceptAsync();
    }

    public int Port => ((IPEndPoint)_listener.LocalEndpoint).Port;

    /// <summary>Whether it is silent.</summary>
    public bool Silent
    {
        get => _silent;
        set => _silent = value;
    }

    /// <summary>Times that it read something and did not pass it on.</summary>
    public long Swallowed => Interlocked.Read(ref _swallowed);

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
                open.Add(ServeAsync(await _listener.AcceptTcpClientAsync(_stop.Token)));
        }
        catch (Exception e) when (e is OperationCanceledException or SocketException or ObjectDisposedException)
        {
            await Task.WhenAll(open);
        }
    }

    private async Task ServeAsync(TcpClient client)
    {
        using (client)
        using (var device = new TcpClient())
        {
            try
            {
                await device.ConnectAsync(IPAddress.Loopback, _behind, _stop.Token);
                await Task.WhenAny(PassAsync(client, device, maySwallow: true), PassAsync(device, client, maySwallow: false));
            }
            catch (Exception e) when (e is OperationCanceledException or SocketException or IOException)
            {
                // One of the two sides has gone: both connections end.
            }
        }
    }

    private async Task PassAsync(TcpClient from, TcpClient to, bool maySwallow)
    {
        var buffer = new byte[1024];
        int count;
        while ((count = await from.GetStream().ReadAsync(buffer, _stop.Token)) > 0)
        {
            if (maySwallow && _silent)
                Interlocked.Increment(ref _swallowed);
            else
                await to.GetStream().WriteAsync(buffer.AsMemory(0, count), _stop.Token);
        }
    }
}
