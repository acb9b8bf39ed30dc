using MQTTnet.Protocol;

namespace SawEdge.Simulator.Mqtt;

/// <summary>Where and how a virtual saw publishes.</summary>
public sealed record MqttPublisherOptions
{
    /// <summary>Host name or address of the broker.</summary>
    public required string Host { get; init; }

    /// <summary>TCP port of the broker.</summary>
    public required int Port { get; init; }

    /// <summary>Client identifier; unique at the broker.</summary>
    public required string ClientId { get; init; }

    /// <summary>Topic of the whole frame; with <see cref="TopicPerSignal"/> the topic above those of the signals.</summary>
    public required string Topic { get; init; }

    /// <summary>Publishes each signal's bare value, when it has changed, to <c>topic/signal</c> instead of one JSON payload a frame.</summary>
    public bool TopicPerSignal { get; init; }

    /// <summary>Time between frames, in the saw's own time.</summary>
    public TimeSpan Interval { get; init; } = TimeSpan.FromMilliseconds(500);

    /// <summary>Protocol version 5, or 3.1.1.</summary>
    public bool Version5 { get; init; } = true;

    /// <summary>Quality of service.</summary>
    public MqttQualityOfServiceLevel QualityOfService { get; init; } = MqttQualityOfServiceLevel.AtLeastOnce;

    /// <summary>Whether the broker keeps the last payload for those who subscribe later.</summary>
    public bool Retain { get; init; }

    /// <summary>User name, or null.</summary>
    public string? User { get; init; }

    /// <summary>Password, or null.</summary>
    public string? Password { get; init; }
}
