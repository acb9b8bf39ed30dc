using System.Globalization;
using System.Net.Http.Headers;
using System.Runtime.CompilerServices;

namespace SawEdge.Gateway.Forwarding;

/// <summary>
/// Two things about an answer that the client library loses. Retry-After may be a date as well as a number of seconds
/// (RFC 9110 section 10.2.3), at which the library throws a FormatException instead of telling what the server said: a
/// date becomes seconds here. And every 2xx counts as written there: the status is kept, so that a login page of a
/// network in between is not taken for a server's yes.
/// </summary>
internal sealed class AnswerHandler(HttpMessageHandler inner, TimeProvider time) : DelegatingHandler(inner)
{
    private const string RetryAfter = "Retry-After";

    // The library reads the number as an int, and nothing beyond a day is believed anyway.
    private const double Most = 24 * 60 * 60;

    // Requests may be under way at once; each flow of control has its own.
    private readonly AsyncLocal<StrongBox<int>?> _status = new();

    /// <summary>Where the status of the answers to what is sent from here on will be; 0 before there is one.</summary>
    public StrongBox<int> Listen() => _status.Value = new StrongBox<int>();

    /// <summary>The header's value as seconds, or null where it says nothing that can be understood.</summary>
    public static int? Seconds(string value, DateTimeOffset now)
    {
        if (!RetryConditionHeaderValue.TryParse(value, out var parsed))
            return null;
        var wait = parsed.Delta ?? parsed.Date - now ?? TimeSpan.Zero;
        return (int)Math.Clamp(Math.Ceiling(wait.TotalSeconds), 0, Most);
    }

    /// <inheritdoc/>
    protected override async Task<HttpResponseMessage> SendAsync(HttpRequestMessage request, CancellationToken cancellationToken)
    {
        var response = await base.SendAsync(request, cancellationToken);
        if (_status.Value is { } status)
            status.Value = (int)response.StatusCode;
        if (response.Headers.TryGetValues(RetryAfter, out var values))
        {
            var seconds = Seconds(values.First(), time.GetUtcNow());
            response.Headers.Remove(RetryAfter);
            if (seconds is not null)
                response.Headers.TryAddWithoutValidation(RetryAfter, seconds.Value.ToString(CultureInfo.InvariantCulture));
        }

        return response;
    }
}
