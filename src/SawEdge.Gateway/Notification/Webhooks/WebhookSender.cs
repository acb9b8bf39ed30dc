using System.Globalization;
using System.Net.Http.Headers;
using System.Security.Authentication;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Notification.Messages;

namespace SawEdge.Gateway.Notification.Webhooks;

/// <summary>Messages as HTTP requests: one each, signed after the Standard Webhooks specification, with an identity that stays the same at each try.</summary>
internal sealed class WebhookSender : IMessageSender
{
    // What a receiver says beyond this is not read: an acknowledgement is short, and an endless answer must not fill the memory.
    private const int MostOfAnswer = 4096;

    private readonly WebhookOptions _options;
    private readonly TimeProvider _time;
    private readonly HttpClient _http;
    private readonly byte[]? _key;
    private readonly BodyTemplate? _template;

    /// <summary>Prepares it; nothing is sent yet.</summary>
    public WebhookSender(WebhookOptions options, TimeProvider time)
    {
        _options = options;
        _time = time;
        _key = options.Secret is null ? null : WebhookSignature.Key(options.Secret);
        _template = options.Body is null ? null : new BodyTemplate(options.Body);
        var handler = new SocketsHttpHandler
        {
            AllowAutoRedirect = false,
            UseCookies = false,
            ConnectTimeout = options.Timeout,
            MaxResponseHeadersLength = 16,
            // A receiver that moves to another address is found again.
            PooledConnectionLifetime = TimeSpan.FromMinutes(5),
        };
        // Our own time-out below is the one that counts; it knows the clock, holds for the body too, and can be told from a cancellation.
        _http = new HttpClient(handler) { Timeout = System.Threading.Timeout.InfiniteTimeSpan };
    }

    /// <inheritdoc/>
    public string Receiver => _options.Url.GetComponents(UriComponents.SchemeAndServer, UriFormat.UriEscaped);

    /// <inheritdoc/>
    public bool Merges => false;

    /// <inheritdoc/>
    public bool ShowsPictures => false;

    /// <inheritdoc/>
    public async Task<SendResult> SendAsync(Message message, CancellationToken cancellation)
    {
        if (_options.Secret is not null && _key is null)
            return new SendResult(SendVerdict.Mend, "the secret begins with whsec_ but what follows is no base64. Copy the whole secret from the receiver.");

        using var timeout = new CancellationTokenSource(_options.Timeout, _time);
        using var either = CancellationTokenSource.CreateLinkedTokenSource(timeout.Token, cancellation);
        try
        {
            using var request = Request(message);
            using var response = await _http.SendAsync(request, HttpCompletionOption.ResponseHeadersRead, either.Token);
            await using var stream = await response.Content.ReadAsStreamAsync(either.Token);
            var body = await WebhookAnswer.ReadAsync(stream, MostOfAnswer, either.Token);
            var answer = new WebhookAnswer((int)response.StatusCode, response.Content.Headers.ContentType?.MediaType, body, response.Headers.Location, RetryAfter(response.Headers.RetryAfter));
            return answer.Judge();
        }
        catch (Exception e) when (e is HttpRequestException or IOException or OperationCanceledException)
        {
            cancellation.ThrowIfCancellationRequested();
            if (timeout.IsCancellationRequested)
                return new SendResult(SendVerdict.Wait, string.Create(CultureInfo.InvariantCulture, $"no whole answer within {_options.Timeout.TotalSeconds:0.###} s."));
            var innermost = e;
            while (innermost.InnerException is { } inner)
                innermost = inner;
            var words = ControllerText.CleanUpTo(innermost.Message, 300);
            return e.InnerException is AuthenticationException
                ? new SendResult(SendVerdict.Mend, $"its certificate is not trusted: {words} Check the address, and that the machine trusts the authority that the certificate is from.")
                : new SendResult(SendVerdict.Wait, $"no answer: {words.TrimEnd('.')}.");
        }
    }

    /// <inheritdoc/>
    public ValueTask DisposeAsync()
    {
        _http.Dispose();
        return ValueTask.CompletedTask;
    }

    private HttpRequestMessage Request(Message message)
    {
        var body = _template?.Write(message) ?? WebhookBody.Write(message);
        var content = new ByteArrayContent(body);
        content.Headers.ContentType = new MediaTypeHeaderValue("application/json") { CharSet = "utf-8" };
        var request = new HttpRequestMessage(HttpMethod.Post, _options.Url) { Content = content };
        // As the specification has it the time is that of this try, which guards against requests that somebody else repeats.
        var timestamp = _time.GetUtcNow().ToUnixTimeSeconds();
        request.Headers.Add(WebhookSignature.IdHeader, message.Id);
        request.Headers.Add(WebhookSignature.TimestampHeader, timestamp.ToString(CultureInfo.InvariantCulture));
        if (_key is not null)
            request.Headers.Add(WebhookSignature.SignatureHeader, WebhookSignature.Sign(_key, message.Id, timestamp, body));
        if (_options.Token is not null)
            request.Headers.Authorization = new AuthenticationHeaderValue("Bearer", _options.Token);
        request.Headers.UserAgent.ParseAdd("SawEdge");
        return request;
    }

    private TimeSpan? RetryAfter(RetryConditionHeaderValue? header) =>
        header is null ? null : header.Delta ?? header.Date - _time.GetUtcNow();
}
