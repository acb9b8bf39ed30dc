using System.Text;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Notification.Webhooks;

/// <summary>What a receiver of webhooks answered.</summary>
/// <param name="Status">HTTP status.</param>
/// <param name="MediaType">Media type of the body, or null.</param>
/// <param name="Body">The beginning of the body.</param>
/// <param name="Location">Where it redirects to, or null.</param>
/// <param name="RetryAfter">How long it asks us to wait, or null.</param>
internal sealed record WebhookAnswer(int Status, string? MediaType, string Body, Uri? Location, TimeSpan? RetryAfter)
{
    private const int LongestExcerpt = 200;

    /// <summary>What to do after it. Pure.</summary>
    /// <remarks>
    /// Status codes: RFC 9110 section 15; 410 and redirects: the Standard Webhooks specification, "Delivery success and failure". A receiver that is gone is not taken out
    /// of use here, because nobody would be told of alarms then: somebody has to correct its address.
    /// </remarks>
    public SendResult Judge() => Status switch
    {
        >= 200 and < 300 when IsPage => new SendResult(SendVerdict.Mend, $"what answers is a web page and no receiver of messages (status {Status}{Said}): perhaps a login page of the network in between. Check the address and the way to it."),
        >= 200 and < 300 => SendResult.Delivered,
        >= 300 and < 400 => new SendResult(SendVerdict.Mend, $"it redirects to {(Location is null ? "nowhere" : Shown(Location))} (status {Status}), which is not followed. Configure the address that it redirects to."),
        400 or 413 or 415 or 422 => new SendResult(SendVerdict.Refused, $"the receiver refused it (status {Status}{Said})."),
        401 => new SendResult(SendVerdict.Mend, $"it does not know this gateway (status 401{Said}). Check the token and the secret."),
        403 => new SendResult(SendVerdict.Mend, $"this gateway may not send there (status 403{Said}). Check the token and what it allows."),
        404 or 405 => new SendResult(SendVerdict.Mend, $"there is no receiver at this address (status {Status}{Said}). Check the address."),
        410 => new SendResult(SendVerdict.Mend, $"the receiver says that it is gone for good (status 410{Said}). Configure another address, or take the channel out."),
        408 or 425 or 429 or >= 500 => new SendResult(SendVerdict.Wait, $"it cannot take messages now (status {Status}{Said}).", RetryAfter),
        _ => new SendResult(SendVerdict.Mend, $"what answers takes no messages (status {Status}{Said}). Check the address."),
    };

    private string Said => Excerpt.Length == 0 ? "" : $", '{Excerpt}'";

    private bool IsPage => MediaType is "text/html" or "application/xhtml+xml"
        || Body.TrimStart('\uFEFF', ' ', '\t', '\r', '\n') is var start && (start.StartsWith("<!doctype", StringComparison.OrdinalIgnoreCase) || start.StartsWith("<html", StringComparison.OrdinalIgnoreCase));

    private string Excerpt
    {
        get
        {
            // A page says nothing in its first letters but that it is one; its title says more.
            var text = Body;
            if (text.IndexOf("<title>", StringComparison.OrdinalIgnoreCase) is var from and >= 0 && text.IndexOf("</title>", from, StringComparison.OrdinalIgnoreCase) is var to and >= 0)
                text = text[(from + "<title>".Length)..to];
            return ControllerText.CleanUpTo(text.ReplaceLineEndings(" "), LongestExcerpt);
        }
    }

    /// <summary>An address without what may be secret in it.</summary>
    public static string Shown(Uri address) => ControllerText.CleanUpTo(address.IsAbsoluteUri ? address.GetComponents(UriComponents.SchemeAndServer | UriComponents.Path, UriFormat.UriEscaped) : address.OriginalString.Split('?')[0], LongestExcerpt);

    /// <summary>Reads the beginning of a body.</summary>
    /// <param name="stream">The body.</param>
    /// <param name="most">Bytes at most.</param>
    /// <param name="cancellation">Ends the reading.</param>
    public static async Task<string> ReadAsync(Stream stream, int most, CancellationToken cancellation)
    {
        var bytes = new byte[most];
        var length = await stream.ReadAtLeastAsync(bytes, most, throwOnEndOfStream: false, cancellation);
        return Encoding.UTF8.GetString(bytes.AsSpan(0, length));
    }
}
