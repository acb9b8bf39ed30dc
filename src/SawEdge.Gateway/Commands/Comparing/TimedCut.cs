using SawEdge.Core.Comparison;

namespace SawEdge.Gateway.Commands.Comparing;

/// <summary>A completed cut with its time against its standard.</summary>
/// <param name="Kind">Its kind.</param>
/// <param name="Blade">Identity of its blade, or empty.</param>
/// <param name="StartedAt">When its cycle began.</param>
/// <param name="Run">Its run, a number of its own over all saws.</param>
/// <param name="LogRatio">ln(actual over standard cut time).</param>
internal readonly record struct TimedCut(CutKind Kind, string Blade, DateTimeOffset StartedAt, int Run, double LogRatio)
{
    /// <summary>Kind and pitch of its blade; empty where it is not known.</summary>
    public string BladeType => Kind.BladeType;
}

/// <summary>What was seen on the way: what was left out and why, and what the reader should know of the rest.</summary>
internal sealed class CutTally
{
    /// <summary>Cuts that were taken.</summary>
    public int Taken { get; set; }

    /// <summary>Cuts that did not go through, squared a bar's end, or were not seen to their end.</summary>
    public int NotCompleted { get; set; }

    /// <summary>Completed cuts that have no standard.</summary>
    public int WithoutStandard { get; set; }

    /// <summary>Cuts with a feed hold.</summary>
    public int Held { get; set; }

    /// <summary>Cuts of which too little was seen.</summary>
    public int Gaps { get; set; }

    /// <summary>Cuts made while the blade was being broken in.</summary>
    public int BreakIn { get; set; }

    /// <summary>Cuts that were taken although their load score calls them unusual.</summary>
    public int Unusual { get; set; }

    /// <summary>Cuts that were held against other standards when they were made than the configuration's now, and were converted.</summary>
    public int Converted { get; set; }

    /// <summary>When the first of the cuts that were taken began.</summary>
    public DateTimeOffset? First { get; set; }

    /// <summary>When the last of the cuts that were taken began.</summary>
    public DateTimeOffset? Last { get; set; }

    /// <summary>What was left out, in words; empty where nothing was.</summary>
    public string LeftOut => string.Join(", ", new[]
    {
        (NotCompleted, "not completed (aborted, trim, partial or not seen to the end)"),
        (WithoutStandard, "without a standard (not in the job list)"),
        (Held, "with a feed hold"),
        (Gaps, "seen with gaps"),
        (BreakIn, "with a blade that was being broken in"),
    }.Where(part => part.Item1 > 0).Select(part => FormattableString.Invariant($"{part.Item1:N0} {part.Item2}")));
}
