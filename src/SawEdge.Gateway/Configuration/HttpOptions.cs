namespace SawEdge.Gateway.Configuration;

/// <summary>Where the gateway serves its page and API.</summary>
public sealed record HttpOptions
{
    /// <summary>Where it listens where nothing is configured: this machine alone.</summary>
    public const string DefaultListen = "http://127.0.0.1:8080";

    /// <summary>Address and port that the gateway listens on.</summary>
    public Uri Listen { get; init; } = new(DefaultListen);

    /// <summary>The address as people reach it from outside, or null: as it listens.</summary>
    public Uri? Public { get; init; }

    /// <summary>File with the certificate and those of the authorities between (PEM), or null: without TLS.</summary>
    public string? CertificateFile { get; init; }

    /// <summary>File with the certificate's key (PEM), or null: it stands in <see cref="CertificateFile"/>.</summary>
    public string? KeyFile { get; init; }

    /// <summary>Whether the person at this very machine may change things without a token.</summary>
    public bool OperateOnLoopback { get; init; } = true;
}
