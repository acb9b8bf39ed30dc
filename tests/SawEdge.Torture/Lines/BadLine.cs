using System.Net;
using System.Net.Sockets;

namespace SawEdge.Torture.Lines;

/// <summary>What a line does at the moment.</summary>
internal enum LineState
{
    /// <summary>Passes everything on.</summary>
    Good,

    /// <summary>Who is connected is cut off, and so is who connects.</summary>
    Cut,

    /// <summary>Half open: connections stand and are made, what is sent is gone, and nobody is told.</summary>
    Silent,

    /// <summary>Requests arrive, answers are gone.</summary>
    Deaf,

    /// <summary>A few bytes at a time.</summary>
    Trickle,

    /// <summary>Everything comes late.</summary>
    Late,
}

/// <summary>A TCP line that can be ill-treated: stands before a server, and its clients connect to it.</summary>
internal sealed class BadLine : IAsyncDisposable
{
    private static readonly TimeSpan TricklePause = TimeSpan.FromMilliseconds(10);

    private readonly TcpListener _listener;
    private readonly IPEndPoint _behind;
    private readonly CancellationTokenSource _stop = new();
    private readonly Lock _lock = new();
    private readonly HashSet<TcpClient> _open = [];
    private readonly Task _accepting;
    private volatile LineState _state;
    private long _passed;
    private long _lost;

    /// <summary>Opens a line.</summary>
    /// <param name="port">Port of the server behind it, on loopback.</param>
    /// <param name="address">Where the line is reached; loopback where not stated.</param>
    public BadLine(int port, IPAddress? address = null)
    {
        _behind = new IPEndPoint(IPAddress.Loopback, port);
        _listener = new TcpListener(address ?? IPAddress.Loopback, 0);
        _listener.Start();
        _accepting = AcceptAsync();
    }

    /// <summary>Where it is reached.</summary>
    public IPEndPoint At => (IPEndPoint)_listener.LocalEndpoint;

    /// <summary>How late everything comes where it is <see cref="LineState.Late"/>.</summary>
    public TimeSpan Delay { get; set; } = TimeSpan.FromMilliseconds(150);

    /// <summary>Bytes every 10 ms where it is <see cref="LineState.Trickle"/>.</summary>
    public int TrickleBytes { get; set; } = 100;

    /// <summary>What it does.</summary>
    public LineState State
    {
        get => _state;
        set
        {
            _state = value;
            if (value == LineState.Cut)
                Reset();
        }
    }

    /// <summary>Bytes that were passed on.</summary>
    public long Passed => Interlocked.Read(ref _passed);

    /// <summary>Bytes that were lost.</summary>
    public long Lost => Interlocked.Read(ref _lost);

    /// <summary>Ends all connections as they are with a reset, in the middle of whatever they are saying.</summary>
    public void Reset()
    {
        lock (_lock)
        {
            foreach (var client in _open)
                End(client);
        }
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        Reset();
        await _accepting;
        _listener.Dispose();
        _stop.Dispose();
    }

    private async Task AcceptAsync()
    {
        var serving = new List<Task>();
        try
        {
            while (true)
            {
                var client = await _listener.AcceptTcpClientAsync(_stop.Token);
                if (_state == LineState.Cut)
                {
                    End(client);
                    client.Dispose();
                    continue;
                }

                serving.RemoveAll(task => task.IsCompleted);
                serving.Add(ServeAsync(client));
            }
        }
        catch (Exception e) when (e is OperationCanceledException or SocketException or ObjectDisposedException)
        {
            await Task.WhenAll(serving);
        }
    }

    private async Task ServeAsync(TcpClient client)
    {
        await Task.Yield();
        using (client)
        using (var server = new TcpClient { NoDelay = true })
        {
            client.NoDelay = true;
            lock (_lock)
                _open.Add(client);
            try
            {
                await server.ConnectAsync(_behind, _stop.Token);
                await await Task.WhenAny(PassAsync(client, server, isAnswer: false), PassAsync(server, client, isAnswer: true));
            }
            catch (Exception e) when (e is OperationCanceledException or SocketException or IOException or ObjectDisposedException or InvalidOperationException)
            {
                // One side has gone, or was made to go: both connections end.
            }

            lock (_lock)
                _open.Remove(client);
        }
    }

    private async Task PassAsync(TcpClient from, TcpClient to, bool isAnswer)
    {
        var (source, target) = (from.GetStream(), to.GetStream());
        var buffer = new byte[16 * 1024];
        var isLost = false;
        int count;
        while ((count = await source.ReadAsync(buffer, _stop.Token)) > 0)
        {
            // What is lost once is lost for this connection: a stream with a hole in it would be another one.
            isLost |= _state == LineState.Silent || (_state == LineState.Deaf && isAnswer);
            if (isLost)
            {
                Interlocked.Add(ref _lost, count);
                continue;
            }

            if (_state == LineState.Late)
                await Task.Delay(Delay, _stop.Token);
            var sent = 0;
            while (sent < count)
            {
                var some = _state == LineState.Trickle ? Math.Min(TrickleBytes, count - sent) : count - sent;
                await target.WriteAsync(buffer.AsMemory(sent, some), _stop.Token);
                Interlocked.Add(ref _passed, some);
                sent += some;
                if (sent < count)
                    await Task.Delay(TricklePause, _stop.Token);
            }
        }
    }

    // Without lingering, closing is a reset.
    private static void End(TcpClient client)
    {
        try
        {
            client.Client?.Close(0);
        }
        catch (Exception e) when (e is SocketException or ObjectDisposedException)
        {
            // It has gone already.
        }
    }
}
