using System.Collections.Concurrent;
using System.Globalization;
using System.Net;
using System.Net.Sockets;
using System.Text;

namespace SawEdge.Gateway.Tests.Notification;

/// <summary>A receiver of webhooks on bare sockets, so that it can also break off, dribble, or say nothing. A test decides what each request gets.</summary>
internal sealed class HookReceiver : IAsyncDisposable
{
    private readonly ConcurrentQueue<Request> _requests = new();
    private readonly CancellationTokenSource _stop = new();
    private readonly TcpListener _listener;
    private readonly Task _run;

    public HookReceiver(int port = 0)
    {
        _listener = new TcpListener(IPAddress.Loopback, port);
        _listener.Start();
        Port = ((IPEndPoint)_listener.LocalEndpoint).Port;
        Url = new Uri(string.Create(CultureInfo.InvariantCulture, $"http://127.0.0.1:{Port}/hooks/saws?key=hush"));
        _run = AcceptAsync();
    }

    public sealed record Request(string Line, IReadOnlyDictionary<string, string> Headers, byte[] Body)
    {
        public string Text => Encoding.UTF8.GetString(Body);
    }

    /// <summary>What a request gets: bytes, one after the other as they are given; none closes, a null resets.</summary>
    public Func<Request, CancellationToken, IAsyncEnumerable<byte[]?>> Answer { get; set; } = (_, _) => Once(204);

    public int Port { get; }

    public Uri Url { get; }

    public IReadOnlyList<Request> Requests => [.. _requests];

    public static IAsyncEnumerable<byte[]?> Once(int status, string body = "", params string[] headers) => Bytes(Whole(status, body, headers));

    public static IAsyncEnumerable<byte[]?> Reset() => Bytes(null);

    public static string Whole(int status, string body, params string[] headers) =>
        string.Create(CultureInfo.InvariantCulture, $"HTTP/1.1 {status} So\r\nConnection: close\r\n{string.Concat(headers.Select(header => header + "\r\n"))}Content-Length: {Encoding.UTF8.GetByteCount(body)}\r\n\r\n{body}");

    /// <summary>One byte after the other until the test is over.</summary>
    public static async IAsyncEnumerable<byte[]?> Dribble(string whole, [System.Runtime.CompilerServices.EnumeratorCancellation] CancellationToken stop = default)
    {
        using var pace = new PeriodicTimer(TimeSpan.FromMilliseconds(50));
        foreach (var one in Encoding.UTF8.GetBytes(whole))
        {
            yield return [one];
            await pace.WaitForNextTickAsync(stop);
        }
    }

    /// <summary>Nothing, until the test is over.</summary>
    public static async IAsyncEnumerable<byte[]?> Never([System.Runtime.CompilerServices.EnumeratorCancellation] CancellationToken stop = default)
    {
        await Task.Delay(Timeout.InfiniteTimeSpan, stop);
        yield break;
    }

    /// <summary>A head, then the same for ever.</summary>
    public static async IAsyncEnumerable<byte[]?> Endless([System.Runtime.CompilerServices.EnumeratorCancellation] CancellationToken stop = default)
    {
        yield return Encoding.UTF8.GetBytes("HTTP/1.1 200 OK\r\nContent-Type: text/plain\r\nConnection: close\r\n\r\n");
        while (!stop.IsCancellationRequested)
        {
            yield return new byte[64 * 1024];
            await Task.Yield();
        }
    }

    public async ValueTask DisposeAsync()
    {
        if (!_run.IsCompleted)
            await _stop.CancelAsync();
        await _run;
        _listener.Stop();
        _stop.Dispose();
    }

    private static async IAsyncEnumerable<byte[]?> Bytes(string? whole)
    {
        await Task.CompletedTask;
        yield return whole is null ? null : Encoding.UTF8.GetBytes(whole);
    }

    private async Task AcceptAsync()
    {
        var connections = new List<Task>();
        try
        {
            while (true)
                connections.Add(ServeAsync(await _listener.AcceptTcpClientAsync(_stop.Token)));
        }
        catch (OperationCanceledException)
        {
            await Task.WhenAll(connections);
        }
    }

    private async Task ServeAsync(TcpClient client)
    {
        using (client)
        {
            try
            {
                await using var stream = client.GetStream();
                var request = await ReadAsync(stream);
                _requests.Enqueue(request);
                await foreach (var bytes in Answer(request, _stop.Token).WithCancellation(_stop.Token))
                {
                    if (bytes is null)
                    {
                        // Closing with nothing to linger for is a reset.
                        client.LingerState = new LingerOption(true, 0);
                        return;
                    }

                    await stream.WriteAsync(bytes, _stop.Token);
                }
            }
            catch (Exception e) when (e is IOException or OperationCanceledException)
            {
                // The client has given up, or the test is over.
            }
        }
    }

    private async Task<Request> ReadAsync(NetworkStream stream)
    {
        var head = new StringBuilder();
        var one = new byte[1];
        while (!head.ToString().EndsWith("\r\n\r\n", StringComparison.Ordinal))
        {
            await stream.ReadExactlyAsync(one, _stop.Token);
            head.Append((char)one[0]);
        }

        var lines = head.ToString().Split("\r\n", StringSplitOptions.RemoveEmptyEntries);
        var headers = lines.Skip(1).Select(line => line.Split(": ", 2)).ToDictionary(pair => pair[0], pair => pair[1], StringComparer.OrdinalIgnoreCase);
        var body = new byte[int.Parse(headers["Content-Length"], CultureInfo.InvariantCulture)];
        await stream.ReadExactlyAsync(body, _stop.Token);
        return new Request(lines[0], headers, body);
    }
}
