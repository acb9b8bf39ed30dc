namespace SawEdge.Core.Comparison;

/// <summary>What makes cuts alike once the standard has taken out their size.</summary>
/// <param name="Saw">Name of the saw; empty where it is not told apart.</param>
/// <param name="Material">Name of the material.</param>
/// <param name="Family">Family of the section.</param>
/// <param name="BladeType">Kind and pitch of the blade; empty where it is not known or not told apart.</param>
/// <param name="PlantJob">The job, where the plant set a standard of its own for it; empty where the catalogue's holds. Standards of the plant's own have no common measure.</param>
public sealed record CutKind(string Saw, string Material, string Family, string BladeType, string PlantJob = "")
{
    /// <summary>Kinds in the order of their names.</summary>
    internal static Comparer<CutKind> ByName { get; } = Comparer<CutKind>.Create(static (a, b) =>
        string.CompareOrdinal(a.Saw, b.Saw) is var bySaw and not 0 ? bySaw
        : string.CompareOrdinal(a.Material, b.Material) is var byMaterial and not 0 ? byMaterial
        : string.CompareOrdinal(a.Family, b.Family) is var byFamily and not 0 ? byFamily
        : string.CompareOrdinal(a.BladeType, b.BladeType) is var byBlade and not 0 ? byBlade
        : string.CompareOrdinal(a.PlantJob, b.PlantJob));
}

/// <summary>An interval for a factor.</summary>
/// <param name="Value">The factor.</param>
/// <param name="Low">Lower end of its 95 % interval.</param>
/// <param name="High">Upper end of its 95 % interval.</param>
public readonly record struct FactorInterval(double Value, double Low, double High)
{
    /// <summary>The factor of an estimate of its logarithm.</summary>
    internal static FactorInterval Of(Statistics.ClusteredEstimate estimate)
    {
        var (low, high) = estimate.Interval();
        return new FactorInterval(Math.Exp(estimate.Value), Math.Exp(low), Math.Exp(high));
    }

    /// <summary>One over it.</summary>
    public FactorInterval Inverse() => new(1 / Value, 1 / High, 1 / Low);
}
