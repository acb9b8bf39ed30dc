using System.Globalization;
using System.Text;
using System.Text.Json.Serialization;

namespace SawEdge.Gateway.Configuration;

/// <summary>How the connection to a broker is secured (TLS 1.2 or 1.3); the broker's certificate and its name are always checked.</summary>
public sealed record BrokerTlsOptions
{
    /// <summary>The plant's own authority: a PEM file of root certificates, used alone; null: those that the machine trusts.</summary>
    public string? CaFile { get; init; }

    /// <summary>The gateway's own certificate (PEM); null: it shows none.</summary>
    public string? CertificateFile { get; init; }

    /// <summary>Its key (PEM); null: it stands in <see cref="CertificateFile"/>.</summary>
    public string? KeyFile { get; init; }

    /// <summary>Password of an encrypted key, or null. Never logged, printed or serialized.</summary>
    [JsonIgnore]
    public string? KeyPassword { get; init; }

    /// <summary>The name that the broker's certificate must hold; null: the host.</summary>
    public string? ServerName { get; init; }

    // Takes the place of the compiler's, which would print the password.
    private bool PrintMembers(StringBuilder builder)
    {
        builder.Append(CultureInfo.InvariantCulture, $"CaFile = {CaFile}, CertificateFile = {CertificateFile}, KeyFile = {KeyFile}, ");
        builder.Append(CultureInfo.InvariantCulture, $"KeyPassword = {(KeyPassword is null ? "none" : "set")}, ServerName = {ServerName}");
        return true;
    }
}
