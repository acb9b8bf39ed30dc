using System.Globalization;
using System.Security.Cryptography;
using System.Text;

namespace SawEdge.Gateway.Notification.Webhooks;

/// <summary>Signs requests after the Standard Webhooks specification, version 1.0.0 (standard-webhooks/standard-webhooks, spec/standard-webhooks.md, "Signature scheme").</summary>
internal static class WebhookSignature
{
    /// <summary>Header of the message's identity, the same at each try.</summary>
    public const string IdHeader = "webhook-id";

    /// <summary>Header of the time of the try, seconds since 1970.</summary>
    public const string TimestampHeader = "webhook-timestamp";

    /// <summary>Header of the signature.</summary>
    public const string SignatureHeader = "webhook-signature";

    private const string Prefix = "whsec_";

    /// <summary>The key of a secret: base64 after <c>whsec_</c>, as the specification writes it; any other text as it stands, UTF-8.</summary>
    /// <param name="secret">The secret.</param>
    /// <returns>The key, or null where what stands after <c>whsec_</c> is no base64.</returns>
    public static byte[]? Key(string secret)
    {
        if (!secret.StartsWith(Prefix, StringComparison.Ordinal))
            return Encoding.UTF8.GetBytes(secret);
        var key = new byte[secret.Length];
        return Convert.TryFromBase64String(secret[Prefix.Length..], key, out var length) && length > 0 ? key[..length] : null;
    }

    /// <summary>The value of the signature's header: <c>v1,</c> and base64 of HMAC-SHA256 over identity, time and body with dots between.</summary>
    /// <param name="key">The key.</param>
    /// <param name="id">The message's identity; holds no dot.</param>
    /// <param name="timestamp">Time of the try, seconds since 1970.</param>
    /// <param name="body">The body, byte for byte as it is sent.</param>
    public static string Sign(byte[] key, string id, long timestamp, ReadOnlySpan<byte> body)
    {
        using var mac = IncrementalHash.CreateHMAC(HashAlgorithmName.SHA256, key);
        mac.AppendData(Encoding.UTF8.GetBytes(string.Create(CultureInfo.InvariantCulture, $"{id}.{timestamp}.")));
        mac.AppendData(body);
        return "v1," + Convert.ToBase64String(mac.GetHashAndReset());
    }
}
