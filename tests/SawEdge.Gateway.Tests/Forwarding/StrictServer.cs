using System.Collections.Concurrent;
using System.Globalization;
using System.IO.Compression;
using System.Net;
using System.Net.Sockets;
using System.Text;
using System.Web;

namespace SawEdge.Gateway.Tests.Forwarding;

/// <summary>
/// A v2 write server that is strict: anything but a well-formed write request with the right token gets an error, and a
/// test decides what a well-formed one gets. What was answered 204 is stored, as a server stores it: by series and time.
/// It speaks HTTP on bare sockets, so that it can also break off in the middle of an answer.
/// </summary>
internal sealed class StrictServer : IAsyncDisposable
{
    private readonly TcpListener _listener = new(IPAddress.Loopback, 0);
    private readonly ConcurrentQueue<Request> _requests = new();
    private readonly ConcurrentDictionary<string, string> _points = new();
    private readonly CancellationTokenSource _stop = new();
    private readonly Task _run;
    private int _wrong;

    public StrictServer()
    {
        _listener.Start();
        Url = new Uri(string.Create(CultureInfo.InvariantCulture, $"http://127.0.0.1:{((IPEndPoint)_listener.LocalEndpoint).Port}"));
        _run = AcceptAsync();
    }

    public sealed record Request(IReadOnlyList<string> Lines);

    /// <summary>An answer. Status 0 resets the connection without one; <c>Cut</c> breaks off in the middle of it.</summary>
    public sealed record Reply(int Status, string Body = "", string? RetryAfter = null, Task? After = null, bool Cut = false);

    public static Reply Stored { get; } = new(204);

    public string Token => "secret-token";

    public Uri Url { get; }

    /// <summary>What a well-formed request gets; replaced by tests as they go.</summary>
    public Func<Request, Reply> Answer { get; set; } = _ => Stored;

    public IReadOnlyList<Request> Requests => [.. _requests];

    /// <summary>Points stored, by series and time.</summary>
    public IReadOnlyDictionary<string, string> Points => _points;

    /// <summary>Requests that no client should send.</summary>
    public int Wrong => _wrong;

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        await _run;
        _listener.Stop();
        _stop.Dispose();
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
                var reply = await ReadAndJudgeAsync(stream);
                if (reply.After is not null)
                    await reply.After.WaitAsync(_stop.Token);
                if (reply.Status == 0)
                {
                    // Closing with nothing to linger for is a reset.
                    client.LingerState = new LingerOption(true, 0);
                    return;
                }

                var body = reply.Status == 204 ? "" : reply.Body;
                var head = string.Create(CultureInfo.InvariantCulture, $"HTTP/1.1 {reply.Status} So\r\nConnection: close\r\n");
                if (reply.RetryAfter is not null)
                    head += $"Retry-After: {reply.RetryAfter}\r\n";
                if (reply.Status != 204)
                    head += string.Create(CultureInfo.InvariantCulture, $"Content-Length: {Encoding.UTF8.GetByteCount(body)}\r\n");
                var answer = Encoding.UTF8.GetBytes(head + "\r\n" + body);
                await stream.WriteAsync(reply.Cut ? answer.AsMemory(0, answer.Length / 2) : answer, _stop.Token);
            }
            catch (Exception e) when (e is IOException or OperationCanceledException)
            {
                // The client has given up waiting, or the test is over.
            }
        }
    }

    private async Task<Reply> ReadAndJudgeAsync(NetworkStream stream)
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
        return Judge(lines[0].Split(' '), headers, body);
    }

    private Reply Judge(string[] request, Dictionary<string, string> headers, byte[] body)
    {
        Stream text = headers.GetValueOrDefault("Content-Encoding") == "gzip" ? new GZipStream(new MemoryStream(body), CompressionMode.Decompress) : new MemoryStream(body);
        using var reader = new StreamReader(text, new UTF8Encoding(false, throwOnInvalidBytes: true));
        var lines = reader.ReadToEnd().Split('\n');
        var target = new Uri(Url, request[1]);
        var query = HttpUtility.ParseQueryString(target.Query);
        if (request[0] != "POST" || target.AbsolutePath != "/api/v2/write" || query["bucket"] != "cuts" || query["org"] != "plant" || query["precision"] != "ms" || lines.Any(line => line.Length == 0))
        {
            Interlocked.Increment(ref _wrong);
            return new Reply(418, string.Join(' ', request));
        }

        if (headers.GetValueOrDefault("Authorization") != "Token " + Token)
            return new Reply(401, "{\"code\":\"unauthorized\",\"message\":\"unauthorized access\"}");

        var write = new Request(lines);
        var reply = Answer(write);
        if (reply.Status == 204)
        {
            // Points of cycles; a whole gateway sends others as well, whose lines are their own names here.
            foreach (var line in lines)
                _points[!line.Contains(" basis", StringComparison.Ordinal) ? line : line[..line.IndexOf(" basis", StringComparison.Ordinal)] + line[line.LastIndexOf(' ')..]] = line;
        }

        _requests.Enqueue(write);
        return reply;
    }
}
