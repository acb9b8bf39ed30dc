using System.Net;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;

namespace SawEdge.TestSupport;

/// <summary>An authority of a plant's own that makes certificates for tests; its files are PEM.</summary>
public sealed class PlantAuthority : IDisposable
{
    private readonly TempFolder _folder = new();
    private readonly X509Certificate2 _root;
    private int _made;

    /// <summary>Makes the authority.</summary>
    /// <param name="name">Its name.</param>
    public PlantAuthority(string name = "Riverbend plant authority")
    {
        using var key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        var request = new CertificateRequest($"CN={name}", key, HashAlgorithmName.SHA256);
        request.CertificateExtensions.Add(new X509BasicConstraintsExtension(true, false, 0, true));
        request.CertificateExtensions.Add(new X509KeyUsageExtension(X509KeyUsageFlags.KeyCertSign | X509KeyUsageFlags.CrlSign, true));
        request.CertificateExtensions.Add(new X509SubjectKeyIdentifierExtension(request.PublicKey, false));
        _root = request.CreateSelfSigned(DateTimeOffset.UtcNow.AddYears(-3), DateTimeOffset.UtcNow.AddYears(3));
        File.WriteAllText(RootFile, _root.ExportCertificatePem());
    }

    /// <summary>The authority's own certificate.</summary>
    public string RootFile => _folder.File("root.crt");

    /// <summary>Makes a certificate.</summary>
    /// <param name="subject">Its common name.</param>
    /// <param name="hosts">Names and addresses that it is made out to.</param>
    /// <param name="from">First day, from now; two years ago unless told.</param>
    /// <param name="to">Last day, from now; in two years unless told.</param>
    /// <param name="password">Encrypts the key, or null.</param>
    /// <returns>Files of the certificate and of its key.</returns>
    public (string Certificate, string Key) Make(string subject, IReadOnlyList<string>? hosts = null, TimeSpan? from = null, TimeSpan? to = null, string? password = null)
    {
        using var key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        var request = new CertificateRequest($"CN={subject}", key, HashAlgorithmName.SHA256);
        request.CertificateExtensions.Add(new X509BasicConstraintsExtension(false, false, 0, true));
        if (hosts is { Count: > 0 })
        {
            var names = new SubjectAlternativeNameBuilder();
            foreach (var host in hosts)
            {
                if (IPAddress.TryParse(host, out var address))
                    names.AddIpAddress(address);
                else
                    names.AddDnsName(host);
            }

            request.CertificateExtensions.Add(names.Build());
        }

        var now = DateTimeOffset.UtcNow;
        using var certificate = request.Create(_root, now + (from ?? TimeSpan.FromDays(-700)), now + (to ?? TimeSpan.FromDays(700)), RandomNumberGenerator.GetBytes(8));
        var (certificateFile, keyFile) = (_folder.File($"{++_made}.crt"), _folder.File($"{_made}.key"));
        File.WriteAllText(certificateFile, certificate.ExportCertificatePem());
        File.WriteAllText(keyFile, password is null
            ? key.ExportPkcs8PrivateKeyPem()
            : key.ExportEncryptedPkcs8PrivateKeyPem(password, new PbeParameters(PbeEncryptionAlgorithm.Aes256Cbc, HashAlgorithmName.SHA256, 10_000)));
        return (certificateFile, keyFile);
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        _root.Dispose();
        _folder.Dispose();
    }
}
