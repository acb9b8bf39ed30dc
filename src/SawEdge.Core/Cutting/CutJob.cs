using SawEdge.Core.Materials;
using SawEdge.Core.Sections;

namespace SawEdge.Core.Cutting;

/// <summary>How the cut is cooled.</summary>
public enum Coolant : byte
{
    /// <summary>Flooded.</summary>
    Flood,

    /// <summary>A mist of lubricant.</summary>
    Mist,

    /// <summary>Dry.</summary>
    Dry,
}

/// <summary>The plant's own standard for a job, which stands above the catalogue: a fixed cut time or a fixed rate.</summary>
/// <param name="CutTimeS">Cut time, s; null where the rate is given.</param>
/// <param name="RateCm2Min">Area of cut divided by cut time, cm2/min; null where the time is given.</param>
public sealed record PlantStandard(double? CutTimeS, double? RateCm2Min);

/// <summary>One job of the job list, found by the identifier that the controller reports.</summary>
public sealed record CutJob
{
    /// <summary>The job's identifier at the controller.</summary>
    public required string JobId { get; init; }

    /// <summary>Material.</summary>
    public required Material Material { get; init; }

    /// <summary>Section, as it lies in the vise.</summary>
    public required Section Section { get; init; }

    /// <summary>Part length, mm; null where it is not stated.</summary>
    public double? PartLengthMm { get; init; }

    /// <summary>Pieces to cut; null where it is not stated.</summary>
    public int? Pieces { get; init; }

    /// <summary>Blade type; null where it is not stated, and then a pitch that suits the section is assumed.</summary>
    public Blade? Blade { get; init; }

    /// <summary>The plant's own standard; null where the catalogue serves.</summary>
    public PlantStandard? Standard { get; init; }

    /// <summary>Hardness of this stock, Brinell; null where it is that of the catalogue.</summary>
    public double? HardnessHb { get; init; }

    /// <summary>How the cut is cooled.</summary>
    public Coolant Coolant { get; init; }

    /// <summary>The factors that turn the material's reference rate into the job's.</summary>
    public CuttingFactors Factors { get; init; } = CuttingFactors.Default;

    /// <summary>
    /// What stood in its row of the job list, column to text, as <see cref="JobBook.ReadJob"/> reads it back; null where it was not
    /// read from a list. Kept with each cut, so that a job that was changed or deleted since still gives the same record.
    /// </summary>
    public IReadOnlyDictionary<string, string>? Written { get; init; }
}
