using Microsoft.AspNetCore.Server.Kestrel.Https;
using System.Net.Security;
using System.Security.Authentication;
using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Api;

/// <summary>The certificate that is shown, read again when its file changes, as when it was renewed.</summary>
internal sealed class ServerCertificate
{
    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(30);

    private readonly string _file;
    private readonly string? _keyFile;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly Lock _lock = new();
    private (SslStreamCertificateContext Shown, DateTime Written)? _current;
    private DateTime _tried;
    private long _looked;

    /// <summary>Reads it for the first time.</summary>
    /// <exception cref="IOException">It cannot be used.</exception>
    public ServerCertificate(string file, string? keyFile, TimeProvider time, ILogger logger)
    {
        _file = file;
        _keyFile = keyFile;
        _time = time;
        _logger = logger;
        if (Look() is { } problem)
            throw new IOException(problem);
    }

    /// <summary>What a connection is begun with.</summary>
    public TlsHandshakeCallbackOptions Options => new()
    {
        OnConnection = _ => ValueTask.FromResult(new SslServerAuthenticationOptions
        {
            ServerCertificateContext = Current(),
            EnabledSslProtocols = SslProtocols.Tls12 | SslProtocols.Tls13,
            ApplicationProtocols = [SslApplicationProtocol.Http2, SslApplicationProtocol.Http11],
        }),
        HandshakeTimeout = TimeSpan.FromSeconds(10),
    };

    private SslStreamCertificateContext Current()
    {
        lock (_lock)
        {
            if (_time.GetElapsedTime(_looked) >= LookEvery && Look() is { } problem)
                ApiLog.CertificateKept(_logger, problem);
            return _current!.Value.Shown;
        }
    }

    // Null where all is well. A file that cannot be used is looked at again when it changes.
    private string? Look()
    {
        _looked = _time.GetTimestamp();
        var written = new[] { _file, _keyFile ?? _file }.Max(File.GetLastWriteTimeUtc);
        if (_current is not null && written == _tried)
            return null;
        _tried = written;
        if (!TlsCertificate.TryRead(_file, _keyFile, out var read, out var problem))
            return problem;
        _current = (SslStreamCertificateContext.Create(read.Own, read.Between, offline: true), written);
        return null;
    }
}
