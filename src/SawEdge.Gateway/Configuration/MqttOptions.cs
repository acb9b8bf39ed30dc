using System.Globalization;
using System.Text;
using System.Text.Json.Serialization;

namespace SawEdge.Gateway.Configuration;

/// <summary>One connection to an MQTT broker.</summary>
public sealed record MqttBrokerOptions
{
    /// <summary>Name, unique.</summary>
    public required string Name { get; init; }

    /// <summary>Host name or address.</summary>
    public required string Host { get; init; }

    /// <summary>TCP port; usually 1883, with TLS 8883.</summary>
    public int Port { get; init; } = 1883;

    /// <summary>How the connection is secured; null: not at all.</summary>
    public BrokerTlsOptions? Tls { get; init; }

    /// <summary>Protocol version: 3.1.1 (false) or 5 (true).</summary>
    public bool Version5 { get; init; } = true;

    /// <summary>Client identifier; unique at the broker.</summary>
    public required string ClientId { get; init; }

    /// <summary>User name, or null.</summary>
    public string? User { get; init; }

    /// <summary>Password, or null. Never logged, printed or serialized.</summary>
    [JsonIgnore]
    public string? Password { get; init; }

    /// <summary>
    /// Whether the broker keeps messages for the gateway while it is away. Only where every payload of this broker has its
    /// own time (<see cref="MqttSourceOptions.TimeMember"/>): what comes late would otherwise be taken for what is now.
    /// </summary>
    public bool KeepSession { get; init; }

    /// <summary>Topic of the gateway's own presence, retained: "online" while it listens, "offline" otherwise; null: it says nothing.</summary>
    public string? PresenceTopic { get; init; }

    /// <summary>What the gateway does as a Sparkplug host application; null: it only listens.</summary>
    public SparkplugHostOptions? Sparkplug { get; init; }

    /// <summary>Largest payload that is looked at, bytes.</summary>
    public int MaximumPayloadBytes { get; init; } = 64 * 1024;

    // Takes the place of the compiler's, which would print the password.
    private bool PrintMembers(StringBuilder builder)
    {
        builder.Append(CultureInfo.InvariantCulture, $"Name = {Name}, Host = {Host}, Port = {Port}, Version5 = {Version5}, ClientId = {ClientId}, ");
        builder.Append(CultureInfo.InvariantCulture, $"User = {User}, Password = {(Password is null ? "none" : "set")}, KeepSession = {KeepSession}, Tls = {Tls}, PresenceTopic = {PresenceTopic}, Sparkplug = {Sparkplug}, MaximumPayloadBytes = {MaximumPayloadBytes}");
        return true;
    }
}

/// <summary>A saw that publishes: one JSON payload a frame, or one topic a signal.</summary>
public sealed record MqttSourceOptions : SourceOptions
{
    /// <summary>Name of the broker in <see cref="GatewayOptions.MqttBrokers"/>.</summary>
    public required string Broker { get; init; }

    /// <summary>Topic of the JSON payload that holds a whole frame, or null where each signal has its own topic.</summary>
    public string? FrameTopic { get; init; }

    /// <summary><see cref="FrameTopic"/> with <see cref="SawTopic.Placeholder"/> in place of the saw's name, or null: it was stated without.</summary>
    public string? FrameTemplate { get; init; }

    /// <summary>Name of the payload's time member (a text, or a number since 1970), or null: time of arrival.</summary>
    public string? TimeMember { get; init; }

    /// <summary>Zone of payload times that are written without one, or null: such times are refused.</summary>
    public TimeZoneInfo? TimeZone { get; init; }

    /// <summary>How payload times are written (custom date and time format of .NET), or null: RFC 3339.</summary>
    public string? TimeFormat { get; init; }

    /// <summary>
    /// How long the value of a signal's own topic is used after it came, or null: as long as the broker is there, for controllers
    /// that publish what has changed.
    /// </summary>
    public TimeSpan? HoldFor { get; init; }

    /// <summary>What is found where; a signal at most once.</summary>
    public required IReadOnlyList<MqttMapping> Signals { get; init; }
}

/// <summary>One signal's place in MQTT: a member of the frame's JSON payload, or a topic of its own.</summary>
public sealed record MqttMapping : ValueMapping
{
    /// <summary>Member path in the JSON payload, dots between levels; null where the signal has its own topic.</summary>
    public string? Member { get; init; }

    /// <summary>The signal's own topic, whose payload is the bare value; null where it is a member of the frame.</summary>
    public string? Topic { get; init; }

    /// <summary><see cref="Topic"/> with <see cref="SawTopic.Placeholder"/> in place of the saw's name, or null: it was stated without.</summary>
    public string? Template { get; init; }
}
