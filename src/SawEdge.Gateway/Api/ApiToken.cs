using System.Buffers.Text;
using System.Diagnostics.CodeAnalysis;
using System.Security.Cryptography;
using System.Text;

namespace SawEdge.Gateway.Api;

/// <summary>Tokens by which callers of the API are known: 256 random bits. Only their hash is kept, so nobody finds one in the history.</summary>
public static class ApiToken
{
    /// <summary>What each begins with, so that one that lies about is recognised.</summary>
    public const string Prefix = "sawedge_";

    private const int Length = 32;

    /// <summary>The roles as words.</summary>
    public static IReadOnlyList<string> Roles { get; } = [.. Enum.GetValues<ApiRole>().Select(WordOf)];

    /// <summary>Makes a new one.</summary>
    public static string Make() => Prefix + Base64Url.EncodeToString(RandomNumberGenerator.GetBytes(Length));

    /// <summary>The hash by which one is known: SHA-256. A slow hash would guard what people choose; nobody guesses 256 random bits.</summary>
    public static byte[] Hash(string token) => SHA256.HashData(Encoding.UTF8.GetBytes(token));

    /// <summary>Whether a text can be a token at all.</summary>
    public static bool IsOne([NotNullWhen(true)] string? text) =>
        text is { Length: 51 } && text.StartsWith(Prefix, StringComparison.Ordinal) && Base64Url.IsValid(text.AsSpan(Prefix.Length));

    /// <summary>The word for a role.</summary>
    public static string WordOf(ApiRole role) => role switch
    {
        ApiRole.View => "view",
        ApiRole.Operate => "operate",
        ApiRole.Administer => "administer",
        _ => throw new ArgumentOutOfRangeException(nameof(role), role, "There is no such role."),
    };

    /// <summary>The role for a word; null where there is none.</summary>
    public static ApiRole? RoleOf(string word) => Enum.GetValues<ApiRole>().Where(role => WordOf(role) == word).Select(role => (ApiRole?)role).FirstOrDefault();
}
