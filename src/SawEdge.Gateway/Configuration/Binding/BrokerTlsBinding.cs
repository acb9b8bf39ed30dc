using System.Net;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>Declares how the connection to a broker is secured.</summary>
internal static class BrokerTlsBinding
{
    /// <summary>The settings.</summary>
    public static ObjectType<BrokerTlsOptions> Type { get; } = new("brokerTls", "TLS to the broker. An empty object: the authorities that this machine trusts, and no certificate of the gateway.", Bind);

    /// <summary>Says that a password would cross the network for all to read.</summary>
    public static void InTheClear(ConfigObject o, Setting<string?> password, Setting<string> host, bool isTls)
    {
        if (password.IsStated && !isTls && host.IsGood && !IsThisMachine(host.Value))
            o.Warning(password, "crosses the network in the clear; write \"tls\" where the broker offers it");
    }

    private static BrokerTlsOptions Bind(ConfigObject o)
    {
        var ca = o.Optional("caFile", ValueTypes.Path("/etc/sawedge/plant-ca.crt"), "The plant's own authority: root certificates (PEM), which are trusted alone. Left out: those that this machine trusts.");
        var certificate = o.Optional("certificateFile", ValueTypes.Path("/etc/sawedge/gateway.crt"), "The gateway's certificate (PEM), where the broker wants one; authorities between it and the root must be known to the broker. It is read again at each connection.");
        var key = o.Optional("keyFile", ValueTypes.Path("/etc/sawedge/gateway.key"), "The certificate's key (PEM). Left out: it stands in certificateFile.");
        var password = o.Secret("keyPassword", "Password of an encrypted key.");
        var name = o.Optional("serverName", ValueTypes.Host, "The name that the broker's certificate holds, where it is not the host.");

        var options = new BrokerTlsOptions
        {
            CaFile = Full(o, ca.Value),
            CertificateFile = Full(o, certificate.Value),
            KeyFile = Full(o, key.Value),
            KeyPassword = password,
            ServerName = name,
        };
        if (!certificate.IsStated && (key.IsStated || password.IsStated))
            o.Error(key.IsStated ? key : password, "goes with \"certificateFile\", which is missing");
        else if (o.Findings is not null && ca.IsGood && certificate.IsGood && key.IsGood && password.IsGood)
            CheckFiles(o, options);
        return options;
    }

    private static void CheckFiles(ConfigObject o, BrokerTlsOptions options)
    {
        if (!BrokerCertificates.TryRead(options, out var read, out var member, out var problem))
        {
            o.ErrorAt(member, problem);
            return;
        }

        // Time heals or spoils these while the gateway runs, and other saws must not wait for that: so no errors.
        using (read)
        {
            var now = TimeProvider.System.GetUtcNow();
            if (read.Own is { } own && BrokerCertificates.TroubleWithTime(options.CertificateFile!, own, now) is { } trouble)
                o.WarningAt("certificateFile", trouble);
            if (read.Roots?.Select(root => BrokerCertificates.TroubleWithTime(options.CaFile!, root, now)).FirstOrDefault(text => text is not null) is { } old)
                o.WarningAt("caFile", old);
        }
    }

    private static bool IsThisMachine(string host) =>
        string.Equals(host, "localhost", StringComparison.OrdinalIgnoreCase) || (IPAddress.TryParse(host.Trim('[', ']'), out var address) && IPAddress.IsLoopback(address));

    private static string? Full(ConfigObject o, string? path) => path is null ? null : Path.GetFullPath(path, o.Folder);
}
