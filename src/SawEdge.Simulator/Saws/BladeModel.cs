namespace SawEdge.Simulator.Saws;

/// <summary>
/// How a blade wears. Specific energy rises with the area cut: slowly and steadily at first, then ever faster toward the
/// end of life. The form (a line and a power) is common practice, no source.
/// </summary>
public sealed record BladeModel
{
    /// <summary>Area a blade lasts in the mean, m2.</summary>
    public double LifeM2 { get; init; } = 8;

    /// <summary>Standard deviation of the logarithm of a blade's life.</summary>
    public double LifeSigma { get; init; } = 0.12;

    /// <summary>Scatter of specific energy from new blade to new blade, standard deviation of the logarithm.</summary>
    public double EnergySigma { get; init; }

    /// <summary>Area the first blade had already cut, m2.</summary>
    public double StartAreaM2 { get; init; }

    /// <summary>Rise of specific energy over a life by steady wear, as a share.</summary>
    public double SteadyRise { get; init; } = 0.22;

    /// <summary>Further rise at the end of life by failing teeth, as a share.</summary>
    public double EndRise { get; init; } = 0.35;

    /// <summary>How suddenly the end comes: the power of used life.</summary>
    public double EndPower { get; init; } = 7;

    /// <summary>How much a rise of cutting force slows the feed: rate falls with force to this power (a yielding hydraulic feed).</summary>
    public double FeedYield { get; init; } = 0.25;

    /// <summary>Share of its life after which the operator changes the blade; above 1: worn on beyond its life.</summary>
    public double ChangeAtLife { get; init; } = 1;

    /// <summary>Share of the rate with which the operator begins to break a new blade in; 1: no breaking in.</summary>
    public double BreakInRate { get; init; } = 1;

    /// <summary>Area over which it is raised to the full rate, m2: 62.5 in2, the middle of a blade maker's 50 to 75 in2.</summary>
    public double BreakInM2 { get; init; } = 0.0403;

    /// <summary>Factor on the cutting rate of a blade that has cut an area.</summary>
    /// <param name="areaM2">Area cut, m2.</param>
    public double BreakInFactor(double areaM2) => areaM2 >= BreakInM2 ? 1 : BreakInRate + ((1 - BreakInRate) * areaM2 / BreakInM2);

    /// <summary>Factor on specific energy after a used share of life.</summary>
    /// <param name="usedLife">Area cut divided by the life of this blade.</param>
    public double WearFactor(double usedLife) => 1 + (SteadyRise * usedLife) + (EndRise * Math.Pow(usedLife, EndPower));
}
