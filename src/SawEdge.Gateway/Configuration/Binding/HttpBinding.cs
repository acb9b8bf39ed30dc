using System.Net;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>Declares where the page and the API are served.</summary>
internal static class HttpBinding
{
    /// <summary>The settings; null within: switched off.</summary>
    public static ObjectType<HttpDraft> Type { get; } = new("http", "Where the page and the API are served. Left out: on this machine alone, at http://127.0.0.1:8080.", Bind);

    /// <summary>Says what is wrong with an address to listen on.</summary>
    /// <returns>Whether it can be used.</returns>
    public static bool CheckListen(ConfigObject o, Setting<Uri> listen, string example)
    {
        if (listen is not { IsGood: true, Value: { } address })
            return false;
        if (address.AbsolutePath != "/")
            o.Error(listen, $"has a path; write the address alone, for example \"{example}\"");
        else if (address.Port == 0)
            o.Error(listen, $"has the port 0, so nobody would know where the gateway listens; write for example \"{example}\"");
        else if (address.HostNameType is UriHostNameType.Dns && !string.Equals(address.Host, "localhost", StringComparison.OrdinalIgnoreCase))
            o.Error(listen, $"names the host {Words.Quoted(address.Host)}; write an address of this machine, for example \"{example}\": 127.0.0.1 is reached from this machine alone, 0.0.0.0 from everywhere");
        else
            return true;
        return false;
    }

    private static HttpDraft Bind(ConfigObject o)
    {
        var enabled = o.Default("enabled", ValueTypes.Flag, "true", "Whether page and API are served at all.");
        var listen = o.Default("listen", ValueTypes.Url, HttpOptions.DefaultListen, "Address and port that the gateway listens on. Beyond this machine each request needs a token, made by 'sawedge token make'.");
        var reached = o.Optional("public", ValueTypes.Url, "The address as people reach it from outside, where a server stands in front. Then a token is needed from this machine as well.");
        var certificate = o.Optional("certificateFile", ValueTypes.Path("/etc/sawedge/tls.crt"), "Certificate for https:// (PEM), followed by those of the authorities between. It is read again when it changes.");
        var key = o.Optional("keyFile", ValueTypes.Path("/etc/sawedge/tls.key"), "The certificate's key (PEM, without a password). Left out: it stands in certificateFile.");
        var operate = o.Default("operateOnLoopback", ValueTypes.Flag, "true", "Whether the person at this very machine may acknowledge alarms and enter things without a token.");

        var options = new HttpOptions { Listen = listen.Value, Public = reached.Value, CertificateFile = Full(o, certificate.Value), KeyFile = Full(o, key.Value), OperateOnLoopback = operate };
        if (enabled is { IsGood: true, Value: true } && CheckListen(o, listen, "https://0.0.0.0:8443"))
            CheckTls(o, options, listen, certificate, key);

        return new HttpDraft(enabled.IsGood && !enabled.Value ? null : options);
    }

    private static void CheckTls(ConfigObject o, HttpOptions options, Setting<Uri> listen, Setting<string?> certificate, Setting<string?> key)
    {
        var isTls = options.Listen.Scheme == Uri.UriSchemeHttps;
        if (isTls && options.CertificateFile is null && !certificate.IsStated)
            o.Error(listen, "begins with https:// and there is no certificate; write \"certificateFile\" and \"keyFile\", or http://");
        else if (!isTls && certificate.IsStated)
            o.Error(certificate, "is not used, because \"listen\" begins with http://; write https:// there, or leave the certificate out");
        else if (key.IsStated && !certificate.IsStated)
            o.Error(key, "goes with \"certificateFile\", which is missing");
        else if (isTls && certificate.IsGood && key.IsGood)
            CheckCertificate(o, options, certificate);
        else if (!isTls && !IsLoopback(options.Listen) && options.Public is not { Scheme: "https" })
            o.Warning(listen, "tokens cross the network in the clear, and whoever reads one can use it; write https:// with \"certificateFile\" and \"keyFile\", or put a server with TLS in front and write its address as \"public\"");
    }

    private static void CheckCertificate(ConfigObject o, HttpOptions options, Setting<string?> certificate)
    {
        if (options.CertificateFile is not { } file)
            return;
        if (!TlsCertificate.TryRead(file, options.KeyFile, out var read, out var problem))
        {
            o.Error(certificate, problem);
            return;
        }

        using (read.Own)
        {
            if (read.Own.NotAfter.ToUniversalTime() < TimeProvider.System.GetUtcNow().UtcDateTime)
                o.Warning(certificate, FormattableString.Invariant($"{file} expired on {read.Own.NotAfter.ToUniversalTime():yyyy-MM-dd}; browsers will refuse it"));
        }
    }

    private static bool IsLoopback(Uri address) =>
        string.Equals(address.Host, "localhost", StringComparison.OrdinalIgnoreCase) || (IPAddress.TryParse(address.Host.Trim('[', ']'), out var ip) && IPAddress.IsLoopback(ip));

    private static string? Full(ConfigObject o, string? path) => path is null ? null : Path.GetFullPath(path, o.Folder);
}

/// <summary>What the member <c>http</c> says.</summary>
/// <param name="Options">Where to serve; null: nowhere.</param>
internal sealed record HttpDraft(HttpOptions? Options);
