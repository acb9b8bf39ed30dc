namespace SawEdge.Core.Cutting;

/// <summary>What is fixed about one saw. Every value that is not stated is null and is then learned or left out, never guessed silently.</summary>
public sealed record SawMachine
{
    /// <summary>Name of the saw, unique in the gateway.</summary>
    public required string Name { get; init; }

    /// <summary>Rated power of the blade motor, kW.</summary>
    public double? RatedPowerKw { get; init; }

    /// <summary>Load above which the saw is overloaded, kW; where it is not stated 150 % of the rated power is taken (see <see cref="LoadLimitKw"/>).</summary>
    public double? MaximumLoadKw { get; init; }

    /// <summary>
    /// The load above which the saw is overloaded, kW: <see cref="MaximumLoadKw"/>, else 150 % of <see cref="RatedPowerKw"/>
    /// (common practice, no source); null where neither is stated.
    /// </summary>
    public double? LoadLimitKw => MaximumLoadKw ?? (1.5 * RatedPowerKw);

    /// <summary>Share of motor power that reaches the blade, 0..1. Default 0.8: common practice, no source.</summary>
    public double DriveEfficiency { get; init; } = 0.8;

    /// <summary>Length of the blade loop, mm.</summary>
    public double? BladeLengthMm { get; init; }

    /// <summary>Greatest descent rate of the head while cutting, mm/min.</summary>
    public double? MaximumDescentMmMin { get; init; }

    /// <summary>Head height at rest, above the table, mm.</summary>
    public double? RestHeightMm { get; init; }

    /// <summary>Rapid approach rate of the head, mm/min.</summary>
    public double? ApproachMmMin { get; init; }

    /// <summary>Return rate of the head, mm/min.</summary>
    public double? ReturnMmMin { get; init; }

    /// <summary>Greatest length the shuttle moves the bar in one stroke, mm.</summary>
    public double? ShuttleStrokeMm { get; init; }

    /// <summary>Time of one shuttle stroke, s.</summary>
    public double? IndexStrokeS { get; init; }

    /// <summary>Time to clamp, s.</summary>
    public double? ClampS { get; init; }

    /// <summary>Time to unclamp, s.</summary>
    public double? UnclampS { get; init; }

    /// <summary>Greatest height of stock, mm.</summary>
    public double? CapacityHeightMm { get; init; }

    /// <summary>Greatest width of stock, mm.</summary>
    public double? CapacityWidthMm { get; init; }

    /// <summary>Whether the first cut of a bar is a trim cut, where the part counter does not tell.</summary>
    public bool FirstCutOfBarIsTrim { get; init; }
}
