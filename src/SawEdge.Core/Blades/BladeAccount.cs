namespace SawEdge.Core.Blades;

/// <summary>How it is known that a blade is on the saw.</summary>
public enum BladeOrigin : byte
{
    /// <summary>It was on the saw when watching began, and nobody said which it is or since when.</summary>
    AtStart,

    /// <summary>The controller or a scanner names it.</summary>
    Controller,

    /// <summary>A person entered the change.</summary>
    Operator,

    /// <summary>The configuration names it.</summary>
    Configured,

    /// <summary>Proposed from a step down in specific energy after a stop; a person may correct it.</summary>
    Proposed,
}

/// <summary>One stretch of a blade's life.</summary>
/// <param name="AreaM2">Area the blade had cut in the middle of it, m2.</param>
/// <param name="Residual">Median of ln(specific energy / model), freed of the kind of cut.</param>
/// <param name="Cuts">Cuts in it.</param>
public readonly record struct WearPoint(double AreaM2, double Residual, double Cuts);

/// <summary>What is known of one blade of one saw.</summary>
public sealed record BladeAccount
{
    /// <summary>Identity of the blade; empty where it has none.</summary>
    public required string Blade { get; init; }

    /// <summary>How it came to be known.</summary>
    public BladeOrigin Origin { get; init; }

    /// <summary>Start of the first cut with it.</summary>
    public DateTimeOffset FirstCutAt { get; init; }

    /// <summary>End of the last cut with it.</summary>
    public DateTimeOffset LastCutAt { get; init; }

    /// <summary>Cuts made with it while the saw was watched.</summary>
    public long Cuts { get; init; }

    /// <summary>Area cut, cm2; null where cuts of unknown area were among them.</summary>
    public double? AreaCm2 { get; init; }

    /// <summary>Whether it came after another blade while the saw was watched: then it was new, and is broken in.</summary>
    public bool SeenNew { get; init; }

    /// <summary>ln(specific energy / model) of this blade when it was new, freed of the kind of cut; null where it is not known.</summary>
    public double? Reference { get; init; }

    /// <summary>Its life so far, by area.</summary>
    public IReadOnlyList<WearPoint> Wear { get; init; } = [];

    /// <summary>How it will go on; null where nothing can be said yet.</summary>
    public WearForecast? Forecast { get; init; }
}

/// <summary>How far a blade is worn and how long it will last.</summary>
public sealed record WearForecast
{
    /// <summary>Rise of specific energy over the blade's own beginning, as a share.</summary>
    public required double Rise { get; init; }

    /// <summary>The rise at which it counts as dull, as a share.</summary>
    public required double DullRise { get; init; }

    /// <summary>Area it has cut, m2.</summary>
    public required double AreaM2 { get; init; }

    /// <summary>Rise of ln(specific energy) per m2 of area cut, lately (Theil-Sen).</summary>
    public required double SlopePerM2 { get; init; }

    /// <summary>Area left until it is dull, m2; null where it does not rise.</summary>
    public double? AreaLeftM2 { get; init; }

    /// <summary>Lower end of the interval of <see cref="AreaLeftM2"/> (95 %), m2.</summary>
    public double? LowM2 { get; init; }

    /// <summary>Upper end of the interval of <see cref="AreaLeftM2"/> (95 %), m2; null where it is open.</summary>
    public double? HighM2 { get; init; }

    /// <summary>The area left in cuts like the last one; null where that is not known.</summary>
    public double? CutsLeft { get; init; }

    /// <summary>Whether the blade should be changed soon: dull, or nearly so.</summary>
    public bool IsDue { get; init; }
}
