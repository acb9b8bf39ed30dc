using System.Diagnostics.CodeAnalysis;
using System.Net;
using System.Text.Json;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding.Alarms;

/// <summary>Declares the ways out for messages.</summary>
internal static class ChannelBinding
{
    private static readonly ChoiceType<MailSecurity> Security = new(
        ("starttls", MailSecurity.StartTls, "begun in the clear, then TLS; refused where the server does not offer it."),
        ("tls", MailSecurity.Tls, "TLS from the first byte."),
        ("none", MailSecurity.None, "in the clear, as to a relay on the same machine."));

    /// <summary>An address for e-mail.</summary>
    public static readonly ConfigType<string> Address = new TextType("mail address", "maintenance@riverbend.example", CheckAddress) { MaximumLength = 254, Pattern = "^[^@ <>,;\"]+@[^@ <>,;\"]+$" };

    /// <summary>One channel.</summary>
    public static ObjectType<ChannelOptions?> Type { get; } = new("channel", "One way out for messages. Each keeps its own place in the history and catches up after an outage.", Bind);

    /// <summary>Where people reach the links in messages.</summary>
    public static ObjectType<AnswerLinkOptions> AnswerLinks { get; } = new("answerLinks", "Where people reach the links in messages, by which an alarm is acknowledged once. Left out: messages carry none.", BindLinks);

    private static ChannelOptions? Bind(ConfigObject o)
    {
        var name = o.Required("name", ValueTypes.Name("maintenance-mail"), "Name, unique among channels and destinations. It marks this channel's place in the history: keep it when anything else changes.");
        var timeout = o.Default("timeout", ValueTypes.Time("100 ms", "5 min"), "10 s", "How long to wait for the receiver's answer.");
        var giveUp = o.Default("giveUpAfter", ValueTypes.Time("1 min", "720 h", ("10 min", "720 h")), "72 h", "After how long a message that could not be delivered is set aside.");
        var channel = o.Variants<ChannelOptions>(
            "kind",
            "How messages leave.",
            null,
            [
                new("webhook", "As an HTTP request.", BindWebhook),
                new("email", "As an e-mail.", BindEmail),
                new("mqtt", "The state of each alarm as a retained message.", BindMqtt),
            ]);
        return channel is null ? null : channel with { Name = name, Timeout = timeout, GiveUpAfter = giveUp };
    }

    private static WebhookOptions BindWebhook(ConfigObject o)
    {
        var url = o.Required("url", new HookUrlType(), "Where the requests go.");
        var secret = o.Secret("secret", "Key of the signature (HMAC-SHA256). Left out: not signed.");
        var token = o.Secret("token", "Token for the Authorization header (Bearer).");
        var body = o.Optional("body", new TemplateType("{{\"text\": {text}}}", 16 * 1024, TextContent.MayBeSecret), "Template of the body, JSON with names in braces: within a string a name becomes its text, elsewhere a JSON value; a brace itself is written twice. Left out: the program's own body.");

        if (url is { IsGood: true, Value: { Scheme: "http", IsLoopback: false } })
        {
            if (token.IsStated)
                o.Warning(url, "the secret crosses the network in the clear; write https:// where the server offers it");
            else if (secret.IsStated)
                o.Warning(url, "messages cross the network in the clear: the signature shows that they were not changed, but everybody can read them; write https:// where the server offers it");
        }

        if (secret is { IsGood: true, Value: { } key } && key.StartsWith("whsec_", StringComparison.Ordinal) && !Convert.TryFromBase64String(key[6..], new byte[key.Length], out _))
            o.Error(secret, "begins with whsec_ but what follows is no base64; copy the whole secret from the receiver");
        if (body is { IsGood: true, Value: { } template })
        {
            foreach (var name in template.Names.Where(name => !WebhookOptions.BodyNames.Contains(name)))
                o.Error(body, $"{{{name}}} is not known here; {Words.DidYouMean(name, WebhookOptions.BodyNames)}");
            if (JsonProblem(template) is { } problem)
                o.Error(body, $"is no JSON with a string in place of each name: {problem}");
        }

        return new WebhookOptions { Name = "", Url = url, Secret = secret, Token = token, Body = body };
    }

    private static EmailOptions BindEmail(ConfigObject o)
    {
        var host = o.Required("host", ValueTypes.Host, "Host name or address of the mail server.");
        var security = o.Default("security", Security, "starttls", "How the connection is protected.");
        var port = o.OptionalValue("port", ValueTypes.Port, "TCP port. Left out: 587; for \"tls\" 465, for \"none\" 25.");
        var authority = o.Optional("authorityFile", ValueTypes.Path("/etc/sawedge/mail-ca.pem"), "File with the certificate (PEM) of the authority that the server's certificate must come from. Left out: those that the machine trusts.");
        var user = o.Optional("user", ValueTypes.Text("sawedge"), "User, where the server asks for one.");
        var password = o.Secret("password", "Password of the user.");
        var from = o.Required("from", Address, "Address of the sender.");

        if (password.IsStated && !user.IsStated)
            o.Error(password, "a password needs a user; write \"user\" as well");
        else if (user.IsStated && !password.IsStated)
            o.ErrorAt("password", "is missing; a user needs a password or passwordFile");
        var isNear = host.IsGood && IsLoopback(host.Value);
        if (security is { IsGood: true, Value: MailSecurity.None } && password.IsStated && host.IsGood && !isNear)
            o.Error(security, "the password would cross the network in the clear; write \"starttls\" or \"tls\"");
        if (security is { IsGood: true, Value: MailSecurity.None } && authority.IsStated)
            o.Error(authority, "there is no certificate to check where security is \"none\"; leave it out, or write \"starttls\" or \"tls\"");
        var file = authority.Value is { } path && o.Findings is not null ? Path.GetFullPath(path, o.Folder) : authority.Value;
        if (o.Findings is not null && authority.IsGood && file is not null && !File.Exists(file))
            o.Error(authority, $"there is no file {file}");
        return new EmailOptions
        {
            Name = "",
            Host = host,
            Port = port.Value ?? security.Value switch { MailSecurity.Tls => 465, MailSecurity.None => 25, _ => 587 },
            Security = security,
            AuthorityFile = file,
            User = user,
            Password = password,
            From = from,
        };
    }

    private static MqttChannelOptions BindMqtt(ConfigObject o) => new()
    {
        Name = "",
        Broker = o.Required("broker", ValueTypes.Name("hall"), "Name of the broker, one of \"brokers\"."),
        Root = o.Default("root", new TextType("topic", "sawedge", CheckRoot) { MaximumLength = 256, Pattern = "^[^+#]+$" }, "sawedge", "First part of the topics."),
    };

    private static AnswerLinkOptions BindLinks(ConfigObject o)
    {
        var listen = o.Optional("listen", ValueTypes.Url, "An address and port of its own for the links, for example \"http://0.0.0.0:8087\", where page and API shall not be reached from where the links are. Left out: the address of http.");
        var reached = o.Required("public", ValueTypes.Url, "The address as people reach it from outside, for example \"https://saws.riverbend.example/\".");
        var valid = o.Default("validFor", ValueTypes.Time("5 min", "720 h"), "24 h", "How long a link can be used.");
        if (listen is { IsGood: true, Value: { } address } && address.Scheme != "http")
            o.Error(listen, "links of their own are served without TLS; write http:// and put a server with TLS in front of it, whose address is \"public\", or leave it out: http can have a certificate");
        else if (listen.IsGood && listen.Value is not null)
            HttpBinding.CheckListen(o, new Setting<Uri>(listen.Value, listen.Path, listen.IsStated, listen.IsGood), "http://0.0.0.0:8087");
        if (reached is { IsGood: true, Value: { Scheme: "http", IsLoopback: false } })
            o.Warning(reached, "links cross the network in the clear, and whoever reads one can use it; put a server with TLS in front and write https://");
        return new AnswerLinkOptions { Listen = listen.Value, Public = reached, ValidFor = valid };
    }

    /// <summary>Whether a host is this machine.</summary>
    private static bool IsLoopback(string host) =>
        string.Equals(host, "localhost", StringComparison.OrdinalIgnoreCase) || (IPAddress.TryParse(host, out var address) && IPAddress.IsLoopback(address));

    private static string? CheckAddress(string text)
    {
        var parts = text.Split('@');
        // RFC 5321 allows more before the @; what could begin another address or header line is refused on purpose.
        return parts.Length == 2 && parts.All(part => part.Length > 0 && !part.Any(c => char.IsWhiteSpace(c) || c is '<' or '>' or ',' or ';' or '"' or ':' or '\\' or '(' or ')'))
            ? null
            : $"{Words.Quoted(text)} is no mail address; write the address alone, for example \"maintenance@riverbend.example\"";
    }

    private static string? CheckRoot(string text) =>
        text.IndexOfAny(['+', '#']) >= 0 ? $"{Words.Quoted(text)} holds a + or #, which stand for other topics; leave them out"
        : text.StartsWith('/') || text.EndsWith('/') ? $"{Words.Quoted(text)} has an empty level; leave the / at its ends out"
        : text.StartsWith('$') ? $"{Words.Quoted(text)} begins with a $, which belongs to the broker; write for example \"sawedge\""
        : null;

    private static string? JsonProblem(AlarmTemplate template)
    {
        try
        {
            using var document = JsonDocument.Parse(JsonTemplate.Fill(template, (_, inString) => inString ? "" : "\"\""));
            return null;
        }
        catch (JsonException e)
        {
            return e.Message.Split(" LineNumber", StringSplitOptions.None)[0];
        }
    }

    /// <summary>Where a request goes. Such addresses often hold a key in their path or query, so a wrong one is never quoted.</summary>
    private sealed class HookUrlType : ConfigType<Uri>
    {
        private const string Right = "write for example \"https://hooks.riverbend.example/saws\"";

        private readonly TextType _text = new("address", "https://hooks.riverbend.example/saws") { Pattern = "^https?://[^@#]+$", MaximumLength = 4096, Holds = TextContent.Address };

        public override bool TryRead(SourceNode node, string path, ReadContext context, [MaybeNullWhen(false)] out Uri value)
        {
            value = null;
            if (!_text.TryRead(node, path, context, out var text))
                return false;
            var problem = text.Contains('@', StringComparison.Ordinal) ? "holds an @; leave user and password out of the address and use \"token\""
                : text.Contains('#', StringComparison.Ordinal) ? "holds a #; what stands behind it is never sent, so leave it out"
                : !Uri.TryCreate(text, UriKind.Absolute, out value) || value.Scheme is not ("http" or "https") || value.Host.Length == 0 ? $"is no address that begins with http:// or https:// and names a host; {Right}"
                : null;
            if (problem is null)
                return value is not null;
            value = null;
            context.Findings.Error(path, problem);
            return false;
        }

        public override TypeDescription Describe() => _text.Describe();
    }
}
