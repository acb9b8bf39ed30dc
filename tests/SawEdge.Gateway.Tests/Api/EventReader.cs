using System.Net.Sockets;
using System.Text;
using System.Text.Json;
using System.Threading.Channels;

namespace SawEdge.Gateway.Tests.Api;

/// <summary>One event of a stream.</summary>
internal sealed record StreamEvent(string Name, string? Id, JsonElement Data);

/// <summary>Reads an event stream over a socket of its own, as a browser would.</summary>
internal sealed class EventReader : IAsyncDisposable
{
    private readonly HttpClient _http = new() { Timeout = Timeout.InfiniteTimeSpan };
    private readonly CancellationTokenSource _stop = new();
    private readonly Channel<StreamEvent> _events = Channel.CreateUnbounded<StreamEvent>();
    private Task _run = Task.CompletedTask;

    public static async Task<EventReader> OpenAsync(Uri address, string? last = null)
    {
        var reader = new EventReader();
        var request = new HttpRequestMessage(HttpMethod.Get, new Uri(address, "/api/v1/live"));
        if (last is not null)
            request.Headers.Add("Last-Event-ID", last);
        var response = await reader._http.SendAsync(request, HttpCompletionOption.ResponseHeadersRead);
        response.EnsureSuccessStatusCode();
        Assert.Equal("text/event-stream", response.Content.Headers.ContentType!.MediaType);
        Assert.True(response.Headers.CacheControl!.NoStore);
        reader._run = reader.RunAsync(await response.Content.ReadAsStreamAsync());
        return reader;
    }

    /// <summary>Whether the gateway ended the stream.</summary>
    public bool IsOver => _run.IsCompleted;

    /// <summary>Waits for an event.</summary>
    public async Task<StreamEvent> NextAsync(Func<StreamEvent, bool> wanted, TimeSpan within)
    {
        using var patience = new CancellationTokenSource(within);
        while (true)
        {
            var found = await _events.Reader.ReadAsync(patience.Token);
            if (wanted(found))
                return found;
        }
    }

    /// <summary>What has come.</summary>
    public List<StreamEvent> Drain()
    {
        var all = new List<StreamEvent>();
        while (_events.Reader.TryRead(out var found))
            all.Add(found);
        return all;
    }

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        await _run;
        _http.Dispose();
        _stop.Dispose();
    }

    /// <summary>A socket that asks for the stream and reads nothing, with as little room as the system gives.</summary>
    public static async Task<Socket> OpenDeafAsync(Uri address)
    {
        var socket = new Socket(AddressFamily.InterNetwork, SocketType.Stream, ProtocolType.Tcp) { ReceiveBufferSize = 1024 };
        await socket.ConnectAsync(address.Host, address.Port);
        await socket.SendAsync(Encoding.ASCII.GetBytes($"GET /api/v1/live HTTP/1.1\r\nHost: {address.Authority}\r\n\r\n"));
        return socket;
    }

    private async Task RunAsync(Stream stream)
    {
        try
        {
            using var lines = new StreamReader(stream, Encoding.UTF8);
            var (name, id, data) = ("", (string?)null, "");
            while (await lines.ReadLineAsync(_stop.Token) is { } line)
            {
                if (line.StartsWith("event: ", StringComparison.Ordinal))
                    name = line[7..];
                else if (line.StartsWith("id: ", StringComparison.Ordinal))
                    id = line[4..];
                else if (line.StartsWith("data: ", StringComparison.Ordinal))
                    data = line[6..];
                else if (line.Length == 0 && data.Length > 0)
                {
                    _events.Writer.TryWrite(new StreamEvent(name, id, JsonDocument.Parse(data).RootElement));
                    (name, id, data) = ("", null, "");
                }
            }
        }
        catch (Exception e) when (e is OperationCanceledException or IOException or HttpRequestException)
        {
            // Closed by this side, or broken off by the other.
        }
        finally
        {
            _events.Writer.TryComplete();
        }
    }
}
