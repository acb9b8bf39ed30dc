using SawEdge.Core.Signals;

namespace SawEdge.Gateway.History;

/// <summary>A sample of the signals of a saw.</summary>
/// <param name="Saw">The saw.</param>
/// <param name="Sample">What its signals did in an interval.</param>
public readonly record struct SawSample(string Saw, SignalSample Sample);

/// <summary>Which samples.</summary>
public sealed record SampleFilter
{
    /// <summary>Every sample.</summary>
    public static SampleFilter All { get; } = new();

    /// <summary>Only these saws, or null for all.</summary>
    public IReadOnlyCollection<string>? Saws { get; init; }

    /// <summary>Only samples whose interval begins at this moment or later.</summary>
    public DateTimeOffset? From { get; init; }

    /// <summary>Only samples whose interval begins before this moment.</summary>
    public DateTimeOffset? To { get; init; }
}
