namespace SawEdge.Gateway.Configuration;

/// <summary>What the gateway does at a broker as a Sparkplug host application.</summary>
public sealed record SparkplugHostOptions
{
    /// <summary>The host's identifier, under which it publishes whether it is there; null: it does not.</summary>
    public string? HostId { get; init; }

    /// <summary>Whether nodes may be asked for their births: the one thing that is ever published to a node.</summary>
    public bool Rebirth { get; init; }

    /// <summary>How long a message that is missing in the order of a node's messages is waited for.</summary>
    public TimeSpan ReorderTimeout { get; init; } = TimeSpan.FromSeconds(2);
}

/// <summary>A saw whose signals are metrics of a Sparkplug B device, or of an edge node itself.</summary>
public sealed record SparkplugSourceOptions : SourceOptions
{
    /// <summary>Name of the broker in <see cref="GatewayOptions.MqttBrokers"/>.</summary>
    public required string Broker { get; init; }

    /// <summary>The group's identifier.</summary>
    public required string Group { get; init; }

    /// <summary>The edge node's identifier.</summary>
    public required string Node { get; init; }

    /// <summary>The device's identifier, or null: the metrics are the node's own.</summary>
    public string? Device { get; init; }

    /// <summary>What is found where; a signal at most once.</summary>
    public required IReadOnlyList<SparkplugMapping> Signals { get; init; }
}

/// <summary>One signal's metric.</summary>
public sealed record SparkplugMapping : ValueMapping
{
    /// <summary>Name of the metric, as it stands in the birth.</summary>
    public required string Metric { get; init; }
}
