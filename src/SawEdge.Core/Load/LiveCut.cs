namespace SawEdge.Core.Load;

/// <summary>How far the cut of the open cycle is, told while it runs: without looking back, so that its record may say it otherwise.</summary>
/// <param name="StartedAt">When the load rose and stayed; null where it has not yet.</param>
/// <param name="DepthMm">How far the blade is below the stated top of the stock, mm, above 0 in the stock; NaN where head or section are not known.</param>
/// <param name="Share">Share of the section's height that is cut, 0..1; NaN before the blade is in the stock and where it is not known.</param>
/// <param name="IsDown">Whether the head is at its lowest so far: one that came up again is leaving the stock, or has left it.</param>
/// <param name="IdleKw">Load with the blade in air, kW; NaN where it is not known.</param>
public readonly record struct LiveCut(DateTimeOffset? StartedAt, double DepthMm, double Share, bool IsDown, double IdleKw)
{
    /// <summary>No cut.</summary>
    public static LiveCut None { get; } = new(null, double.NaN, double.NaN, false, double.NaN);
}
