using System.Globalization;
using System.Text;
using System.Text.Json.Serialization;
using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.Configuration;

/// <summary>Rules, contacts and the channels that messages leave by.</summary>
public sealed record AlarmOptions
{
    /// <summary>The rules in force: the program's own, those of the plant instead or beside them.</summary>
    public IReadOnlyList<AlarmRule> Rules { get; init; } = [];

    /// <summary>Who is told.</summary>
    public IReadOnlyList<Contact> Contacts { get; init; } = [];

    /// <summary>How messages leave; names are unique.</summary>
    public IReadOnlyList<ChannelOptions> Channels { get; init; } = [];

    /// <summary>Where people reach the links in messages, or null: messages carry none.</summary>
    public AnswerLinkOptions? AnswerLinks { get; init; }
}

/// <summary>One way out for messages.</summary>
public abstract record ChannelOptions
{
    /// <summary>Name of the channel: the consumer's name in the history; unique.</summary>
    public required string Name { get; init; }

    /// <summary>How long to wait for the receiver's answer.</summary>
    public TimeSpan Timeout { get; init; } = TimeSpan.FromSeconds(10);

    /// <summary>After how long a message that could not be delivered is set aside.</summary>
    public TimeSpan GiveUpAfter { get; init; } = TimeSpan.FromDays(3);
}

/// <summary>Messages as HTTP requests.</summary>
public sealed record WebhookOptions : ChannelOptions
{
    /// <summary>Where they go.</summary>
    public required Uri Url { get; init; }

    /// <summary>Key of the signature (HMAC-SHA256), or null: not signed. Never logged, printed or serialized.</summary>
    [JsonIgnore]
    public string? Secret { get; init; }

    /// <summary>Token for the Authorization header (Bearer), or null. Never logged, printed or serialized.</summary>
    [JsonIgnore]
    public string? Token { get; init; }

    /// <summary>The names that a template of the body can use. Of a message about several alarms those about one are of the most urgent.</summary>
    public static IReadOnlyList<string> BodyNames { get; } =
    [
        "id", "type", "time", "site", "gateway", "channel", "contact", "title", "message", "alarms", "caution",
        "alarm", "rule", "subject", "saw", "severity", "state", "text", "value", "value_number", "limit", "limit_number", "unit",
        "raised_at", "cause", "may_be", "cycle_id", "job", "acknowledge_link", "shelve_link",
    ];

    /// <summary>Template of the body, with JSON strings in place of the names; null: the program's own body.</summary>
    public AlarmTemplate? Body { get; init; }

    /// <inheritdoc/>
    // Takes the place of the compiler's, which would print the secrets.
    protected override bool PrintMembers(StringBuilder builder)
    {
        builder.Append(CultureInfo.InvariantCulture, $"Name = {Name}, Url = {Url.GetComponents(UriComponents.SchemeAndServer, UriFormat.UriEscaped)}, Secret = {(Secret is null ? "none" : "set")}, Token = {(Token is null ? "none" : "set")}");
        return true;
    }
}

/// <summary>How the connection to a mail server is protected.</summary>
public enum MailSecurity
{
    /// <summary>Begun in the clear, then TLS (STARTTLS); refused where the server does not offer it.</summary>
    StartTls,

    /// <summary>TLS from the first byte.</summary>
    Tls,

    /// <summary>In the clear, as to a relay on the same machine.</summary>
    None,
}

/// <summary>Messages as e-mail.</summary>
public sealed record EmailOptions : ChannelOptions
{
    /// <summary>The mail server.</summary>
    public required string Host { get; init; }

    /// <summary>Its port.</summary>
    public int Port { get; init; } = 587;

    /// <summary>How the connection is protected.</summary>
    public MailSecurity Security { get; init; } = MailSecurity.StartTls;

    /// <summary>File with the certificate (PEM) of the authority that the server's certificate must come from; null: those that the machine trusts.</summary>
    public string? AuthorityFile { get; init; }

    /// <summary>User, or null: no authentication.</summary>
    public string? User { get; init; }

    /// <summary>Password. Never logged, printed or serialized.</summary>
    [JsonIgnore]
    public string? Password { get; init; }

    /// <summary>Address of the sender.</summary>
    public required string From { get; init; }

    /// <summary>Addresses by contact.</summary>
    public IReadOnlyDictionary<string, IReadOnlyList<string>> Recipients { get; init; } = new Dictionary<string, IReadOnlyList<string>>();

    /// <inheritdoc/>
    // Takes the place of the compiler's, which would print the password.
    protected override bool PrintMembers(StringBuilder builder)
    {
        builder.Append(CultureInfo.InvariantCulture, $"Name = {Name}, Host = {Host}, Port = {Port}, Security = {Security}, User = {User}, Password = {(Password is null ? "none" : "set")}, From = {From}");
        return true;
    }
}

/// <summary>The state of each alarm as a retained message.</summary>
public sealed record MqttChannelOptions : ChannelOptions
{
    /// <summary>The broker, one of the configuration's brokers.</summary>
    public required string Broker { get; init; }

    /// <summary>First part of the topics; see <c>Notification/</c> for the tree.</summary>
    public string Root { get; init; } = "sawedge";
}

/// <summary>Where people reach the links in messages.</summary>
public sealed record AnswerLinkOptions
{
    /// <summary>An address and port of their own, for example <c>http://0.0.0.0:8087</c>; null: where the page and the API are served.</summary>
    public Uri? Listen { get; init; }

    /// <summary>The address as people reach it from outside, for example <c>https://saws.riverbend.example/</c>.</summary>
    public required Uri Public { get; init; }

    /// <summary>How long a link can be used.</summary>
    public TimeSpan ValidFor { get; init; } = TimeSpan.FromHours(24);
}
