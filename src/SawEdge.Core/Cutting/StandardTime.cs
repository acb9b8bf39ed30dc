using SawEdge.Core.Materials;

namespace SawEdge.Core.Cutting;

/// <summary>One number that led to a standard rate.</summary>
/// <param name="Name">Its name, snake case.</param>
/// <param name="Value">Its value.</param>
/// <param name="Unit">Its unit; empty for a plain factor.</param>
/// <param name="Provenance">How well it is founded.</param>
/// <param name="Source">Where it comes from, in words.</param>
public sealed record RateFactor(string Name, double Value, string Unit, Provenance Provenance, string Source);

/// <summary>What a standard time stands on.</summary>
public enum StandardBasis : byte
{
    /// <summary>The catalogue's rate and its factors.</summary>
    Catalogue,

    /// <summary>The plant's own cut time for the job.</summary>
    PlantTime,

    /// <summary>The plant's own rate for the job.</summary>
    PlantRate,
}

/// <summary>What a cut of a job should take. It never learns.</summary>
public sealed record StandardTime
{
    /// <summary>Time from contact to breakthrough, s.</summary>
    public required double CutSeconds { get; init; }

    /// <summary>Cut and handling, s; null where the machine's handling is not known.</summary>
    public double? CycleSeconds { get; init; }

    /// <summary>Handling alone, s; null where it is not known.</summary>
    public double? HandlingSeconds { get; init; }

    /// <summary>What is missing for the handling time, in the words of the machine's settings; empty where nothing is.</summary>
    public IReadOnlyList<string> MissingForCycle { get; init; } = [];

    /// <summary>Cutting rate where it governs, cm2/min: for a plant's standard, area / time.</summary>
    public required double RateCm2Min { get; init; }

    /// <summary>What the time stands on.</summary>
    public required StandardBasis Basis { get; init; }

    /// <summary>The numbers that led to the rate, in the order of the product.</summary>
    public required IReadOnlyList<RateFactor> Factors { get; init; }

    /// <summary>Advice on the job, in whole sentences; never an error.</summary>
    public required IReadOnlyList<string> Advice { get; init; }

    /// <summary>How the cut should run along its depth.</summary>
    public required CutCurve Curve { get; init; }
}
