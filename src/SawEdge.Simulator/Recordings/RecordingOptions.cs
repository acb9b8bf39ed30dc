using SawEdge.Core.Signals;

namespace SawEdge.Simulator.Recordings;

/// <summary>How virtual saws are recorded.</summary>
public sealed record RecordingOptions
{
    /// <summary>Time between frames.</summary>
    public TimeSpan Interval { get; init; } = TimeSpan.FromMilliseconds(100);

    /// <summary>Ends after this many cycles of each saw; null: does not.</summary>
    public long? Cycles { get; init; }

    /// <summary>Ends at this time; null: does not. One of the two must be given.</summary>
    public DateTimeOffset? End { get; init; }

    /// <summary>No frame before this time, as where the gateway is started in the middle of a cut; null: from the saw's start.</summary>
    public DateTimeOffset? Begin { get; init; }

    /// <summary>Stretches of time in which nothing is recorded, as where the network or the gateway is down.</summary>
    public IReadOnlyList<(DateTimeOffset From, DateTimeOffset To)> Outages { get; init; } = [];

    /// <summary>Signals that are recorded, in this order of columns; all where not stated.</summary>
    public IReadOnlyList<Signal>? Signals { get; init; }

    /// <summary>
    /// Frames are left out that lie further than this from a cycle or what it takes to recover from it; null: all frames are
    /// kept. Months become fast this way: a sample of a skipped wait is never computed.
    /// </summary>
    public TimeSpan? IdleMargin { get; init; }

    /// <summary>Chance that a frame is lost, 0..1.</summary>
    public double LossChance { get; init; }

    /// <summary>Greatest shift of a frame from its due time, as a share of the interval; below 0.5.</summary>
    public double Jitter { get; init; }

    /// <summary>Seed of losses and shifts.</summary>
    public ulong Seed { get; init; } = 1;

    /// <summary>Checks what was stated.</summary>
    /// <exception cref="ArgumentException">Something cannot be; the message says what would be right.</exception>
    public void Validate()
    {
        if (Interval < TimeSpan.FromMilliseconds(1))
            throw new ArgumentException($"Interval is {Interval}; a recording keeps milliseconds, so 1 ms at least.");
        if (Cycles is null && End is null)
            throw new ArgumentException("Cycles or End must be given, or the recording never ends.");
        if (LossChance is not (>= 0 and <= 1))
            throw new ArgumentException($"LossChance is {LossChance}; it must lie between 0 and 1.");
        if (Jitter is not (>= 0 and < 0.5))
            throw new ArgumentException($"Jitter is {Jitter}; it must be at least 0 and below 0.5.");
    }
}
