namespace SawEdge.Core.Cutting;

/// <summary>The pitch that suits a length of cut.</summary>
public static class PitchTable
{
    // Machinery's Handbook, 31st ed., p. 1245; 2-1/2 in: from memory.
    private static readonly (double Mm, double Coarse, double Fine)[] Rows =
        [(6.35, 10, 14), (19.05, 6, 10), (31.75, 4, 6), (63.5, 4, 6), (101.6, 3, 4), (203.2, 2, 3)];

    /// <summary>A bimetal blade of the handbook's row nearest in proportion.</summary>
    /// <param name="meanWidthMm">Mean width of cut, mm.</param>
    public static Blade SuitableBlade(double meanWidthMm)
    {
        var best = Rows.MinBy(p => Math.Abs(Math.Log(p.Mm / meanWidthMm)));
        return new Blade { CoarseTpi = best.Coarse, FineTpi = best.Fine };
    }
}
