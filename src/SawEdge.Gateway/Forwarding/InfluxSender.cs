using System.IO.Compression;
using InfluxDB.Client;
using InfluxDB.Client.Api.Service;
using InfluxDB.Client.Core.Exceptions;
using Newtonsoft.Json.Linq;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Forwarding;

/// <summary>One server's write path: lines in, the server's answer out. Sends once; what to do then is for others.</summary>
internal sealed class InfluxSender : IDisposable
{
    // The library wants one; servers without organisations do not look at it.
    private const string NoOrganization = "-";

    private readonly InfluxOptions _options;
    private readonly TimeProvider _time;
    private readonly AnswerHandler _answers;
    private readonly HttpClient _http;
    private readonly InfluxDBClient _client;
    private readonly WriteService _write;

    /// <summary>Prepares the connection; nothing is sent yet.</summary>
    public InfluxSender(InfluxOptions options, TimeProvider time)
    {
        _options = options;
        _time = time;
        HttpMessageHandler handler = new SocketsHttpHandler
        {
            AllowAutoRedirect = false,
            UseCookies = false,
            ConnectTimeout = options.Timeout,
            // A server that moves to another address is found again.
            PooledConnectionLifetime = TimeSpan.FromMinutes(5),
        };
        handler = _answers = new AnswerHandler(handler, time);
        if (options.Version1)
            handler = new Version1WriteHandler(handler, options.User, options.Password);
        // Our own time-out below is the one that counts; it knows the clock and can be told from a cancellation.
        _http = new HttpClient(handler) { Timeout = Timeout.InfiniteTimeSpan };

        var builder = new InfluxDBClientOptions.Builder()
            .Url(options.Url.ToString())
            .Bucket(options.Bucket)
            .Org(options.Organization ?? NoOrganization)
            .TimeOut(options.Timeout + TimeSpan.FromSeconds(5))
            .SetHttpClient(_http);
        // An empty token would be sent as one, and refused.
        if (!options.Version1 && !string.IsNullOrEmpty(options.Token))
            builder.AuthenticateToken(options.Token);
        _client = new InfluxDBClient(builder.Build());
        // The body is compressed here, once and fast: the library would do it at a level that takes longer than the network saves.
        _client.DisableGzip();
        _write = _client.CreateService<WriteService>(typeof(WriteService));
    }

    /// <summary>Sends the next part of a plan once, and tells the plan where it timed out: the next try may be another, smaller part.</summary>
    /// <param name="plan">What is to go; the part that was sent is the one that is next.</param>
    /// <param name="lines">The lines that are planned.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <inheritdoc cref="SendAsync(ReadOnlyMemory{byte}, CancellationToken)"/>
    public async Task<ServerAnswer> SendAsync(DeliveryPlan plan, LineBatch lines, CancellationToken cancellation)
    {
        plan.TryNext(out var start, out var count);
        var answer = await SendAsync(lines.Part(start, count), cancellation);
        plan.Heard(answer.TimedOut);
        return answer;
    }

    /// <summary>Sends lines once.</summary>
    /// <returns>What the server answered, or status 0 and why no answer came.</returns>
    /// <exception cref="OperationCanceledException">Cancelled by the caller.</exception>
    public async Task<ServerAnswer> SendAsync(ReadOnlyMemory<byte> lines, CancellationToken cancellation)
    {
        using var timeout = new CancellationTokenSource(_options.Timeout, _time);
        using var either = CancellationTokenSource.CreateLinkedTokenSource(timeout.Token, cancellation);
        try
        {
            var status = _answers.Listen();
            await _write.PostWriteAsync(_options.Organization ?? NoOrganization, _options.Bucket, Compressed(lines.Span), contentEncoding: "gzip", precision: PointMapper.Precision, cancellationToken: either.Token);
            return new ServerAnswer(status.Value, $"status {status.Value}, which is no answer of a write path");
        }
        catch (Exception e) when (e is HttpException { Status: 0 } or HttpRequestException or OperationCanceledException)
        {
            // The library gives a cancelled request, one timed out and one refused the same shape; the tokens tell.
            cancellation.ThrowIfCancellationRequested();
            return timeout.IsCancellationRequested
                ? new ServerAnswer(0, $"no answer within {_options.Timeout.TotalSeconds:0.###} s") { TimedOut = true }
                : new ServerAnswer(0, Innermost(e));
        }
        catch (HttpException e)
        {
            return new ServerAnswer(e.Status, Words(e), e.RetryAfter is { } seconds ? TimeSpan.FromSeconds(seconds) : null);
        }
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        _client.Dispose();
        _http.Dispose();
    }

    /// <summary>Lines as they go over the network.</summary>
    internal static byte[] Compressed(ReadOnlySpan<byte> lines)
    {
        using var packed = new MemoryStream(256 + (lines.Length / 4));
        using (var gzip = new GZipStream(packed, CompressionLevel.Fastest, leaveOpen: true))
            gzip.Write(lines);
        return packed.ToArray();
    }

    private static string Words(HttpException error)
    {
        // v2 servers say it in "message", which the library has found already; 1.x servers in "error".
        var words = error.ErrorBody?["error"] is JValue { Value: string text } && error.ErrorBody["message"] is null ? text : error.Message;
        return string.IsNullOrWhiteSpace(words) ? $"status {error.Status} without a word" : words.Trim();
    }

    private static string Innermost(Exception error)
    {
        while (error.InnerException is { } inner)
            error = inner;
        return error.Message;
    }
}
