using System.Net.Security;
using System.Net.Sockets;
using System.Security.Authentication;
using System.Security.Cryptography.X509Certificates;
using MQTTnet;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Brokers;

/// <summary>The certificates of one connection, and why its handshake failed.</summary>
internal sealed class BrokerTlsCheck
{
    private readonly BrokerTlsOptions _options;
    private readonly BrokerCertificates _certificates;
    private readonly string _name;
    private readonly DateTimeOffset _now;
    private string? _refusal;

    /// <summary>Prepares a connection.</summary>
    /// <param name="options">What is configured.</param>
    /// <param name="certificates">What its files hold.</param>
    /// <param name="host">The broker's host.</param>
    /// <param name="now">The present time.</param>
    public BrokerTlsCheck(BrokerTlsOptions options, BrokerCertificates certificates, string host, DateTimeOffset now)
    {
        _options = options;
        _certificates = certificates;
        _name = options.ServerName ?? host;
        _now = now;
    }

    /// <summary>What the library is told.</summary>
    public MqttClientTlsOptions Build()
    {
        var builder = new MqttClientTlsOptionsBuilder()
            .UseTls()
            .WithSslProtocols(SslProtocols.Tls12 | SslProtocols.Tls13)
            .WithTargetHost(_name)

            // A plant's own authority has no list of revoked certificates that could be reached from a machine hall.
            .WithRevocationMode(X509RevocationMode.NoCheck)
            .WithCertificateValidationHandler(Judge);
        if (_certificates.Roots is { } roots)
            builder = builder.WithTrustChain(roots);
        if (_certificates.Own is { } own)
            builder = builder.WithClientCertificates([own]);
        return builder.Build();
    }

    /// <summary>Why a handshake failed, and what to look at; null where it is not the handshake.</summary>
    public string? Explain(Exception e)
    {
        if (_refusal is not null)
            return _refusal;
        var words = string.Join(' ', Chain(e).Select(part => part.Message));
        if (Has(words, "certificate required", "peer did not return a certificate"))
            return Shown($"it wants a certificate of an authority that it trusts, and the gateway's is of another one ('{Issuer()}').");
        if (Has(words, "alert unknown ca", "tlsv1 alert unknown", "alert bad certificate", "unsupported certificate", "alert certificate unknown"))
            return Shown("it does not accept the gateway's certificate: its authority is not one that the broker trusts.");
        if (Has(words, "alert certificate expired", "alert certificate revoked"))
            return Shown("it does not accept the gateway's certificate: it has expired or was revoked.");
        if (Has(words, "corrupted frame", "wrong version number", "packet length too long", "unexpected packet format"))
            return "what answers there does not speak TLS. Check the port (usually 8883), or leave \"tls\" out.";
        if (BrokerWords.SocketErrorOf(e) is SocketError.ConnectionReset or SocketError.ConnectionAborted or SocketError.NotConnected or SocketError.Shutdown
            || Has(words, "unexpected EOF", "0 bytes from the transport"))
            return $"the connection was closed in the TLS handshake. Check the port (usually 8883){(_certificates.Own is null ? ", and whether the broker wants a certificate of the gateway (certificateFile)" : ", and that the broker accepts the gateway's certificate")}.";
        return Chain(e).Any(part => part is AuthenticationException) ? $"the TLS handshake failed: {ControllerText.CleanUpTo(Chain(e).Last().Message, 200).TrimEnd('.')}." : null;
    }

    // Whether the certificate that the broker shows is good; where not, the reason is kept.
    private bool Judge(MqttClientCertificateValidationEventArgs shown)
    {
        _refusal = shown.SslPolicyErrors == SslPolicyErrors.None ? null : Refusal(shown);
        return _refusal is null;
    }

    private string Refusal(MqttClientCertificateValidationEventArgs shown)
    {
        if (shown.SslPolicyErrors.HasFlag(SslPolicyErrors.RemoteCertificateNotAvailable) || shown.Certificate is null)
            return "it shows no certificate.";
        using var certificate = new X509Certificate2(shown.Certificate);
        var (from, to) = (certificate.NotBefore.ToUniversalTime(), certificate.NotAfter.ToUniversalTime());
        if (to < _now.UtcDateTime)
            return FormattableString.Invariant($"its certificate expired on {to:yyyy-MM-dd}; the broker needs a new one.");
        if (from > _now.UtcDateTime)
            return FormattableString.Invariant($"its certificate is valid from {from:yyyy-MM-dd'T'HH:mm:ss'Z'} on, which is not yet. Check the clock of this machine.");
        if (shown.SslPolicyErrors.HasFlag(SslPolicyErrors.RemoteCertificateChainErrors))
        {
            var whose = ControllerText.CleanUpTo(certificate.GetNameInfo(X509NameType.SimpleName, forIssuer: true), 80);
            var flags = shown.Chain.ChainStatus.Aggregate(X509ChainStatusFlags.NoError, (all, status) => all | status.Status);
            return (flags & (X509ChainStatusFlags.UntrustedRoot | X509ChainStatusFlags.PartialChain)) != 0
                ? $"the authority of its certificate ('{whose}') is not {(_options.CaFile is { } file ? $"that of caFile ({file})" : "one that this machine trusts; name the plant's own as caFile under \"tls\"")}."
                : $"its certificate cannot be trusted: {flags}.";
        }

        return $"its certificate is not made out to '{_name}' but to {Names(certificate)}. Write the name that it holds as \"host\", or as \"serverName\" under \"tls\".";
    }

    private static string Names(X509Certificate2 certificate)
    {
        var names = certificate.Extensions.OfType<X509SubjectAlternativeNameExtension>()
            .SelectMany(extension => extension.EnumerateDnsNames().Concat(extension.EnumerateIPAddresses().Select(address => address.ToString())))
            .Take(5)
            .DefaultIfEmpty(certificate.GetNameInfo(X509NameType.SimpleName, forIssuer: false));
        return string.Join(", ", names.Select(name => $"'{ControllerText.CleanUpTo(name, 80)}'"));
    }

    private string Issuer() => ControllerText.CleanUpTo(_certificates.Own?.GetNameInfo(X509NameType.SimpleName, forIssuer: true) ?? "", 80);

    private string Shown(string words) => _certificates.Own is null ? "it wants a certificate of the gateway; write certificateFile and keyFile under \"tls\"." : words;

    private static bool Has(string words, params ReadOnlySpan<string> parts)
    {
        foreach (var part in parts)
        {
            if (words.Contains(part, StringComparison.OrdinalIgnoreCase))
                return true;
        }

        return false;
    }

    private static IEnumerable<Exception> Chain(Exception? e)
    {
        for (; e is not null; e = e.InnerException)
            yield return e;
    }
}
