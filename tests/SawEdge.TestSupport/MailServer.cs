using System.Globalization;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using System.Text.Json;

namespace SawEdge.TestSupport;

/// <summary>How a mail server of a test protects its connections.</summary>
public enum MailServerSecurity
{
    /// <summary>Not at all.</summary>
    None,

    /// <summary>STARTTLS is demanded.</summary>
    StartTls,

    /// <summary>TLS from the first byte.</summary>
    Tls,
}

/// <summary>A real SMTP server (aiosmtpd) on a free loopback port. What it takes is read by Python's own mail package.</summary>
public sealed class MailServer : IAsyncDisposable
{
    private readonly TempFolder _folder = new();
    private readonly string[] _arguments;
    private Peer? _peer;

    private MailServer(MailServerSecurity security, string? user, string? password, int port, IEnumerable<string> refuse, string name)
    {
        Port = port;
        Directory.CreateDirectory(Mails);
        MakeCertificate(name);
        _arguments =
        [
            "-c", Script, port.ToString(CultureInfo.InvariantCulture), _folder.Path, security.ToString(), user ?? "", password ?? "", .. refuse,
        ];
    }

    /// <summary>What it needs, for <see cref="PeerFactAttribute"/>.</summary>
    public const string Package = "/usr/lib/python3/dist-packages/aiosmtpd/smtp.py";

    // Not the first one on the path, which may be another than the distribution's and not know its packages.
    private const string Python = "/usr/bin/python3";

    /// <summary>TCP port on loopback.</summary>
    public int Port { get; }

    /// <summary>File with the certificate of the authority that its certificate is from, PEM.</summary>
    public string AuthorityFile => _folder.File("authority.pem");

    /// <summary>Everything it printed since its last start.</summary>
    public string Output => _peer?.Output ?? "";

    private string Mails => _folder.File("mails");

    /// <summary>Starts it.</summary>
    /// <param name="security">How connections are protected.</param>
    /// <param name="user">The only user that may send; null: everybody may.</param>
    /// <param name="password">The user's password.</param>
    /// <param name="port">The port; null: a free one.</param>
    /// <param name="refuse">Recipients that it refuses, each as <c>address=words</c>, for example <c>gone@x.example=550 5.1.1 no such user</c>; the address <c>DATA</c> refuses the mail itself.</param>
    /// <param name="name">Name in its certificate.</param>
    public static async Task<MailServer> StartAsync(MailServerSecurity security = MailServerSecurity.None, string? user = null, string? password = null, int? port = null, IEnumerable<string>? refuse = null, string name = "127.0.0.1")
    {
        var server = new MailServer(security, user, password, port ?? Peer.FreePort(), refuse ?? [], name);
        await server.StartAgainAsync();
        return server;
    }

    /// <summary>Starts it again on the same port, after <see cref="KillAsync"/>.</summary>
    public async Task StartAgainAsync()
    {
        _peer = Peer.Start(Python, _arguments);
        await _peer.PrintsAsync("listening");
    }

    /// <summary>Ends it at once.</summary>
    public async Task KillAsync()
    {
        if (_peer is not null)
            await _peer.DisposeAsync();
        _peer = null;
    }

    /// <summary>The mails taken so far, in order, as Python reads them.</summary>
    public IReadOnlyList<ReceivedMail> Received() =>
        [.. Directory.GetFiles(Mails, "*.json").Order(StringComparer.Ordinal).Select(file => JsonSerializer.Deserialize<ReceivedMail>(File.ReadAllText(file), JsonSerializerOptions.Web)!)];

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        await KillAsync();
        _folder.Dispose();
    }

    private void MakeCertificate(string name)
    {
        using var authorityKey = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        var authority = new CertificateRequest("CN=Riverbend test authority", authorityKey, HashAlgorithmName.SHA256);
        authority.CertificateExtensions.Add(new X509BasicConstraintsExtension(certificateAuthority: true, false, 0, critical: true));
        using var root = authority.CreateSelfSigned(DateTimeOffset.UtcNow.AddDays(-1), DateTimeOffset.UtcNow.AddDays(30));
        using var key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        var request = new CertificateRequest($"CN={name}", key, HashAlgorithmName.SHA256);
        var names = new SubjectAlternativeNameBuilder();
        if (System.Net.IPAddress.TryParse(name, out var address))
            names.AddIpAddress(address);
        else
            names.AddDnsName(name);
        request.CertificateExtensions.Add(names.Build());
        using var certificate = request.Create(root, DateTimeOffset.UtcNow.AddDays(-1), DateTimeOffset.UtcNow.AddDays(29), RandomNumberGenerator.GetBytes(8));
        File.WriteAllText(AuthorityFile, root.ExportCertificatePem());
        File.WriteAllText(_folder.File("server.pem"), certificate.ExportCertificatePem());
        File.WriteAllText(_folder.File("server.key"), key.ExportPkcs8PrivateKeyPem());
    }

    private const string Script = """
        import asyncio, email, email.policy, itertools, json, os, ssl, sys
        from aiosmtpd.smtp import SMTP, AuthResult
        port, folder, security, user, password = int(sys.argv[1]), sys.argv[2], sys.argv[3], sys.argv[4], sys.argv[5]
        refuse = dict(pair.split('=', 1) for pair in sys.argv[6:])
        numbers = itertools.count(len(os.listdir(folder + '/mails')))

        class Handler:
            async def handle_RCPT(self, server, session, envelope, address, options):
                if address in refuse:
                    words = refuse[address]
                    # "450 ... once" refuses the first time only.
                    if words.endswith(' once'):
                        del refuse[address]
                        words = words[:-5]
                    return words
                envelope.rcpt_tos.append(address)
                return '250 OK'

            async def handle_DATA(self, server, session, envelope):
                if 'DATA' in refuse:
                    return refuse['DATA']
                m = email.message_from_bytes(envelope.content, policy=email.policy.default)
                parts = [{'type': p.get_content_type(), 'text': p.get_content() if p.get_content_maintype() == 'text' else '', 'bytes': len(p.get_payload(decode=True) or b'') if not p.is_multipart() else 0,
                          'contentId': p.get('Content-ID', ''), 'disposition': p.get_content_disposition() or ''} for p in m.walk()]
                names = [name for name, _ in m.items()]
                mail = {'sender': envelope.mail_from, 'recipients': envelope.rcpt_tos, 'subject': m['Subject'], 'from': m['From'], 'to': m['To'], 'messageId': m['Message-ID'], 'headerNames': names,
                        'headers': {name: str(value) for name, value in m.items()}, 'defects': [repr(d) for d in m.defects] + [repr(d) for p in m.walk() for d in p.defects],
                        'parts': parts, 'secured': server.transport.get_extra_info('ssl_object') is not None, 'user': (session.auth_data.login.decode() if session.auth_data else ''), 'raw': envelope.content.decode('latin1')}
                path = '%s/mails/%06d.json' % (folder, next(numbers))
                with open(path + '.new', 'w') as f:
                    json.dump(mail, f)
                os.rename(path + '.new', path)
                return '250 OK'

        def authenticate(server, session, envelope, mechanism, data):
            good = data.login.decode() == user and data.password.decode() == password
            return AuthResult(success=good, handled=good, auth_data=data)

        async def main():
            context = None
            if security != 'None':
                context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
                context.load_cert_chain(folder + '/server.pem', folder + '/server.key')
            def factory():
                return SMTP(Handler(), hostname='mail.riverbend.example', enable_SMTPUTF8=True, tls_context=context if security == 'StartTls' else None, require_starttls=security == 'StartTls',
                            auth_required=bool(user), auth_require_tls=security == 'StartTls', authenticator=authenticate if user else None)
            server = await asyncio.get_running_loop().create_server(factory, '127.0.0.1', port, ssl=context if security == 'Tls' else None)
            print('listening', flush=True)
            await server.serve_forever()

        asyncio.run(main())
        """;
}

/// <summary>A mail as Python's mail package reads it.</summary>
/// <param name="Sender">Sender of the envelope.</param>
/// <param name="Recipients">Recipients of the envelope.</param>
/// <param name="Subject">Its subject, decoded.</param>
/// <param name="From">Its From.</param>
/// <param name="To">Its To.</param>
/// <param name="MessageId">Its identity.</param>
/// <param name="HeaderNames">Names of all its headers.</param>
/// <param name="Headers">Its headers.</param>
/// <param name="Defects">What the parser finds wrong with it.</param>
/// <param name="Parts">Its parts, the whole first.</param>
/// <param name="Secured">Whether it came over TLS.</param>
/// <param name="User">Who logged in; empty: nobody.</param>
/// <param name="Raw">All of it, each byte a character.</param>
public sealed record ReceivedMail(
    string Sender, IReadOnlyList<string> Recipients, string Subject, string From, string To, string MessageId, IReadOnlyList<string> HeaderNames,
    IReadOnlyDictionary<string, string> Headers, IReadOnlyList<string> Defects, IReadOnlyList<ReceivedPart> Parts, bool Secured, string User, string Raw)
{
    /// <summary>The text of the first part of a type.</summary>
    public string Text(string type) => Parts.First(part => part.Type == type).Text;
}

/// <summary>A part of a received mail.</summary>
/// <param name="Type">Media type.</param>
/// <param name="Text">The text, decoded; empty where it is none.</param>
/// <param name="Bytes">Its length, decoded.</param>
/// <param name="ContentId">Its content identity; may be empty.</param>
/// <param name="Disposition">Whether it is shown inline or attached; may be empty.</param>
public sealed record ReceivedPart(string Type, string Text, int Bytes, string ContentId, string Disposition);
