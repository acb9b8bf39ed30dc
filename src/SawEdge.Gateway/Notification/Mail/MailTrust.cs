using System.Net.Security;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;

namespace SawEdge.Gateway.Notification.Mail;

/// <summary>Which certificate of a mail server is trusted, where the plant has an authority of its own.</summary>
/// <param name="authorities">Its certificates.</param>
internal sealed class MailTrust(X509Certificate2Collection authorities)
{
    /// <summary>Reads the authority's certificates.</summary>
    /// <param name="path">The file, PEM.</param>
    /// <param name="trust">What it makes trusted.</param>
    /// <param name="problem">Why it cannot be used, and what would be right.</param>
    public static bool TryLoad(string path, out MailTrust? trust, out string problem)
    {
        (trust, problem) = (null, "");
        try
        {
            var found = new X509Certificate2Collection();
            found.ImportFromPemFile(path);
            if (found.Count == 0)
                problem = $"'{path}' holds no certificate. It must be a PEM file with '-----BEGIN CERTIFICATE-----'.";
            else
                trust = new MailTrust(found);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or CryptographicException)
        {
            problem = $"the authority's certificate '{path}' cannot be read: {e.Message}";
        }

        return trust is not null;
    }

    /// <summary>Whether a server's certificate is for the name that was asked for and comes from the authority.</summary>
    public bool Accepts(object sender, X509Certificate? certificate, X509Chain? sent, SslPolicyErrors errors)
    {
        // The name is checked by the runtime; only who signed it is judged anew.
        if (certificate is null || (errors & ~SslPolicyErrors.RemoteCertificateChainErrors) != 0)
            return false;
        using var chain = new X509Chain();
        chain.ChainPolicy.TrustMode = X509ChainTrustMode.CustomRootTrust;
        chain.ChainPolicy.CustomTrustStore.AddRange(authorities);
        // A plant's own authority seldom has a list of what it revoked.
        chain.ChainPolicy.RevocationMode = X509RevocationMode.NoCheck;
        foreach (var element in sent?.ChainElements ?? Enumerable.Empty<X509ChainElement>())
            chain.ChainPolicy.ExtraStore.Add(element.Certificate);
        using var leaf = new X509Certificate2(certificate);
        return chain.Build(leaf);
    }
}
