namespace SawEdge.Gateway.Configuration;

/// <summary>Two gateways that watch the same saws in turns: what this one of them needs to know of the other.</summary>
public sealed record StandbyOptions
{
    /// <summary>Whether this is the one that watches as long as it runs; otherwise it takes over where that is silent.</summary>
    public required bool IsFirst { get; init; }

    /// <summary>Name of the broker through which the two know of each other.</summary>
    public required string Broker { get; init; }

    /// <summary>Topic of this gateway's own presence, retained.</summary>
    public required string Topic { get; init; }

    /// <summary>Topic of the other's presence.</summary>
    public required string Other { get; init; }

    /// <summary>Base address of the first's page, which the second asks where the presence is silent; null: the presence alone counts.</summary>
    public Uri? OtherPage { get; init; }

    /// <summary>How long the other has to be silent.</summary>
    public TimeSpan After { get; init; } = TimeSpan.FromSeconds(10);
}
