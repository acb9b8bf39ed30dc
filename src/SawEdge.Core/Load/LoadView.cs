namespace SawEdge.Core.Load;

/// <summary>The ways in which a cut is looked at.</summary>
public enum LoadView : byte
{
    /// <summary>The cut's mean specific energy against what this blade and kind of cut let expect, and the idle load against the saw's own.</summary>
    Level,

    /// <summary>A stretch of depth that stands out from the rest of the cut.</summary>
    Shape,

    /// <summary>The cut time against the learned one.</summary>
    Pace,

    /// <summary>A load that comes and goes with each turn of the blade.</summary>
    Loop,
}

/// <summary>One number about a cut, and how rarely a normal cut of this saw shows one as far out.</summary>
public sealed record ViewScore
{
    /// <summary>The view.</summary>
    public required LoadView View { get; init; }

    /// <summary>What was measured, in words: <c>specific energy</c>, <c>idle load</c>, <c>depth 40 to 46 mm</c>, <c>cut time</c>, <c>blade loop</c>.</summary>
    public required string What { get; init; }

    /// <summary>The measured value, as a natural logarithm of a ratio (level, shape, pace) or of a ratio of powers (loop); of <c>idle load</c> kW.</summary>
    public required double Value { get; init; }

    /// <summary>What was expected of it.</summary>
    public required double Expected { get; init; }

    /// <summary>Standard deviation of what was expected.</summary>
    public required double Spread { get; init; }

    /// <summary>The statistic whose rarity counts: how many standard deviations out, signed.</summary>
    public required double Statistic { get; init; }

    /// <summary>Share of normal cuts that are as far out or further, above 0 and up to 1.</summary>
    public required double PValue { get; init; }

    /// <summary>Accepted cuts of this saw on which <see cref="PValue"/> stands; few: a stated prior has the greater say.</summary>
    public required int History { get; init; }

    /// <summary>-log10 of <see cref="PValue"/>, at most <see cref="LoadAssessment.Cap"/>.</summary>
    public double Score => Math.Min(LoadAssessment.Cap, 0 - Math.Log10(PValue));
}
