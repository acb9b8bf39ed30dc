namespace SawEdge.Core.Materials;

/// <summary>A factor that depends on the length of cut: linear between its rows, level beyond them.</summary>
/// <param name="Rows">Length of cut, mm, rising, and factor.</param>
/// <param name="Provenance">How well it is founded.</param>
/// <param name="Source">Where it comes from, in words.</param>
public sealed record FactorTable(IReadOnlyList<(double Mm, double Factor)> Rows, Provenance Provenance, string Source)
{
    /// <summary>The factor at a length of cut.</summary>
    /// <param name="lengthMm">Length of cut, mm.</param>
    public Sourced At(double lengthMm) => new(Interpolate(lengthMm), Provenance, Source);

    private double Interpolate(double at)
    {
        if (at <= Rows[0].Mm)
            return Rows[0].Factor;
        for (var i = 1; i < Rows.Count; i++)
        {
            if (at <= Rows[i].Mm)
                return Rows[i - 1].Factor + ((Rows[i].Factor - Rows[i - 1].Factor) * (at - Rows[i - 1].Mm) / (Rows[i].Mm - Rows[i - 1].Mm));
        }

        return Rows[^1].Factor;
    }
}
