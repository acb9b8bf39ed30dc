using System.Diagnostics.CodeAnalysis;
using System.Text;

namespace SawEdge.Gateway.Configuration.Reading;

/// <summary>A file whose only content is a secret.</summary>
internal static class SecretFile
{
    private const int LargestBytes = 64 * 1024;

    /// <summary>Reads it.</summary>
    /// <param name="path">Full path.</param>
    /// <param name="secret">The secret without blanks and line ends around it.</param>
    /// <param name="problem">What is wrong and what would be right; never holds the content.</param>
    public static bool TryRead(string path, [NotNullWhen(true)] out string? secret, [NotNullWhen(false)] out string? problem)
    {
        secret = null;
        problem = null;
        try
        {
            if (Directory.Exists(path))
                problem = $"{path} is a folder; name the file that holds the secret";
            else if (!File.Exists(path))
                problem = $"there is no file {path}";
            else if (new FileInfo(path).Length > LargestBytes)
                problem = $"{path} is larger than 64 KiB; the file holds the secret and nothing else";
            else
                secret = new UTF8Encoding(false, throwOnInvalidBytes: true).GetString(File.ReadAllBytes(path)).Trim('\uFEFF', ' ', '\t', '\r', '\n');
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            problem = $"{path} cannot be read: {e.Message}";
        }
        catch (DecoderFallbackException)
        {
            problem = $"{path} holds bytes that are no UTF-8 text";
        }

        if (secret is { Length: 0 })
            problem = $"{path} is empty; it must hold the secret and nothing else";
        else if (secret is not null && secret.Any(char.IsControl))
            problem = $"{path} holds more than one line; it must hold the secret and nothing else";
        if (problem is not null)
            secret = null;
        return secret is not null;
    }
}
