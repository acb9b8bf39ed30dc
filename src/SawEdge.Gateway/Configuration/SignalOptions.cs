namespace SawEdge.Gateway.Configuration;

/// <summary>What is kept of the signals of the past.</summary>
public sealed record SignalOptions
{
    /// <summary>Length of the intervals of which each signal's mean, least, greatest and last value is kept; whole milliseconds; null: none are kept.</summary>
    /// <value>10 s</value>
    public TimeSpan? Every { get; init; } = TimeSpan.FromSeconds(10);

    /// <summary>How long they are kept.</summary>
    /// <value>14 days</value>
    public TimeSpan Keep { get; init; } = TimeSpan.FromDays(14);
}
