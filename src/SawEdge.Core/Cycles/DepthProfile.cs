namespace SawEdge.Core.Cycles;

/// <summary>What a cut's profile is divided by.</summary>
public enum ProfileBasis : byte
{
    /// <summary>Equal shares of the depth, from contact to breakthrough; needs the head position.</summary>
    Depth,

    /// <summary>Equal shares of the cut time, where the head position is unknown.</summary>
    TimeShare,
}

/// <summary>
/// One cut divided into equal bins from contact to breakthrough. All lists have the same length. A bin without an
/// observation holds NaN (0 for seconds).
/// </summary>
/// <param name="Basis">What the bins are shares of.</param>
/// <param name="DepthMm">Depth of the whole profile, mm; NaN where the basis is time.</param>
/// <param name="Seconds">Time spent in each bin, s, holds included.</param>
/// <param name="MeanLoadKw">Time-weighted mean motor load in each bin, kW.</param>
/// <param name="MeanBladeSpeedMMin">Time-weighted mean blade speed in each bin, m/min.</param>
public sealed record DepthProfile(
    ProfileBasis Basis,
    double DepthMm,
    IReadOnlyList<float> Seconds,
    IReadOnlyList<float> MeanLoadKw,
    IReadOnlyList<float> MeanBladeSpeedMMin)
{
    /// <summary>The usual number of bins.</summary>
    public const int DefaultBins = 48;
}
