namespace SawEdge.Core.Cutting;

/// <summary>What a bar yields.</summary>
/// <param name="Parts">Whole parts.</param>
/// <param name="Cuts">Cuts, the trim cut among them.</param>
/// <param name="RemnantMm">What is left, mm.</param>
public readonly record struct BarYield(int Parts, int Cuts, double RemnantMm);

/// <summary>Parts from bars: kerf, trim and what the vise must hold.</summary>
public static class BarPlan
{
    /// <summary>
    /// Parts of one bar. Each part costs its length and one kerf; the trim costs its length and one kerf; the vise keeps a rest.
    /// A last part that ends exactly with the bar needs no cut of its own.
    /// </summary>
    /// <param name="barMm">Length of the bar, mm.</param>
    /// <param name="partMm">Part length, mm.</param>
    /// <param name="kerfMm">Kerf, mm.</param>
    /// <param name="trimMm">Length of the trim cut at the bar's end, mm; 0 for none.</param>
    /// <param name="holdMm">Least length that the vise must hold, mm; 0 where the last part may be what is left.</param>
    /// <exception cref="ArgumentOutOfRangeException">A length is negative, or the bar or the part is not above zero.</exception>
    public static BarYield Parts(double barMm, double partMm, double kerfMm, double trimMm = 0, double holdMm = 0)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(barMm);
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(partMm);
        ArgumentOutOfRangeException.ThrowIfNegative(kerfMm);
        ArgumentOutOfRangeException.ThrowIfNegative(trimMm);
        ArgumentOutOfRangeException.ThrowIfNegative(holdMm);
        var trimmed = trimMm > 0 ? trimMm + kerfMm : 0;
        var usable = barMm - trimmed - holdMm;
        var near = 1e-9 * barMm;
        var parts = (int)Math.Max(0, Math.Floor((usable + near) / (partMm + kerfMm)));
        var cuts = parts;
        var left = barMm - trimmed - (parts * (partMm + kerfMm));
        if (holdMm == 0 && Math.Abs(left - partMm) <= near)
        {
            parts++;
            left = 0;
        }

        return new BarYield(parts, cuts + (trimmed > 0 && usable > 0 ? 1 : 0), Math.Max(0, left));
    }
}
