using System.Diagnostics.CodeAnalysis;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;

namespace SawEdge.Gateway.Configuration;

/// <summary>The certificate that a server shows, with those of the authorities between.</summary>
/// <param name="Own">The certificate with its key.</param>
/// <param name="Between">Those of the authorities between, to be sent along.</param>
public sealed record TlsCertificate(X509Certificate2 Own, X509Certificate2Collection Between)
{
    /// <summary>Reads one from PEM files.</summary>
    /// <param name="certificateFile">The certificate first, then those of the authorities between.</param>
    /// <param name="keyFile">Its key, without a password; null: it stands in the same file.</param>
    /// <param name="certificate">What was read.</param>
    /// <param name="problem">What is wrong and what would help; never holds the content.</param>
    public static bool TryRead(string certificateFile, string? keyFile, [NotNullWhen(true)] out TlsCertificate? certificate, [NotNullWhen(false)] out string? problem)
    {
        certificate = null;
        problem = Missing(certificateFile) ?? (keyFile is null ? null : Missing(keyFile));
        if (problem is not null)
            return false;
        try
        {
            using var read = X509Certificate2.CreateFromPemFile(certificateFile, keyFile);
            var all = new X509Certificate2Collection();
            all.ImportFromPemFile(certificateFile);

            // Keys that live in memory alone cannot be used by every platform's TLS; this brings it to where they can.
            var own = X509CertificateLoader.LoadPkcs12(read.Export(X509ContentType.Pkcs12), null, X509KeyStorageFlags.DefaultKeySet);
            certificate = new TlsCertificate(own, [.. all.Skip(1)]);
            return true;
        }
        catch (Exception e) when (e is CryptographicException or ArgumentException)
        {
            problem = $"{certificateFile}{(keyFile is null ? "" : $" with the key {keyFile}")} cannot be used as a certificate in PEM form with its key: {e.Message} Write the certificate into certificateFile and its key, without a password, into keyFile";
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            problem = $"{certificateFile} cannot be read: {e.Message}";
        }

        return false;
    }

    private static string? Missing(string file) => File.Exists(file) ? null : $"there is no file {file}";
}
