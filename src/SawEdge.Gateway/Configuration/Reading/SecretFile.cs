using System.Diagnostics.CodeAnalysis;
using System.Text;

namespace SawEdge.Gateway.Configuration.Reading;

/// <summary>A file whose only content is a secret.</summary>
internal static class SecretFile
{
    private const int LargestBytes = 64 * 1024;

    /// <summary>What a credential of the service manager begins with, in place of a path.</summary>
    public const string Credential = "credential:";

    /// <summary>Where it is.</summary>
    /// <param name="stated">A path, or the name of a credential.</param>
    /// <param name="folder">Where relative paths start.</param>
    /// <param name="credentials">Folder of the credentials, or null where no service manager hands any over.</param>
    /// <returns>The full path, or what is wrong; neither where it is a credential and nobody hands any over.</returns>
    public static (string? Path, string? Problem) Find(string stated, string folder, string? credentials)
    {
        if (!stated.StartsWith(Credential, StringComparison.Ordinal))
            return (System.IO.Path.GetFullPath(stated, folder), null);
        var name = stated[Credential.Length..];

        // As systemd has it: the name is one of a file in its folder.
        if (name.Length == 0 || name is "." or ".." || name.AsSpan().ContainsAny('/', '\\', '\0'))
            return (null, $"'{name}' is no name of a credential; write credential: and the name before the colon in LoadCredential=");
        return credentials is null ? (null, null) : (System.IO.Path.Combine(credentials, name), null);
    }

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
                problem = FileRights.Missing(path);
            else if (new FileInfo(path).Length > LargestBytes)
                problem = $"{path} is larger than 64 KiB; the file holds the secret and nothing else";
            else
                secret = new UTF8Encoding(false, throwOnInvalidBytes: true).GetString(File.ReadAllBytes(path)).Trim('\uFEFF', ' ', '\t', '\r', '\n');
        }
        catch (UnauthorizedAccessException)
        {
            problem = FileRights.Denied(path);
        }
        catch (IOException e)
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
