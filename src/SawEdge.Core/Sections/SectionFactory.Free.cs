namespace SawEdge.Core.Sections;

/// <content>Free outlines, bundles and mitre cuts.</content>
public static partial class SectionFactory
{
    /// <summary>The greatest number of corners of a free outline.</summary>
    public const int MostCorners = 200;

    /// <summary>The greatest number of bars in a bundle.</summary>
    public const int MostBars = 1000;

    /// <summary>The steepest mitre, degrees.</summary>
    public const double SteepestMitre = 75;

    /// <summary>A solid section from the corners of its outline, x to the right and y up, in either sense of going round.</summary>
    /// <param name="corners">The corners, mm; the last joins the first.</param>
    /// <exception cref="SectionException">Fewer than three corners, sides that cross or touch, or no area.</exception>
    public static Section Polygon(params IReadOnlyList<(double X, double Y)> corners)
    {
        if (corners.Count is < 3 or > MostCorners)
            throw new SectionException($"{corners.Count} corners; a polygon has 3 to {MostCorners}.");
        foreach (var (x, y) in corners)
        {
            if (!(Math.Abs(x) <= LargestMm && Math.Abs(y) <= LargestMm))
                throw new SectionException($"corner ({Mm(x)}, {Mm(y)}) mm lies beyond {Mm(LargestMm)} mm; is the unit right?");
        }

        RefuseCrossing(corners);
        var notation = $"polygon {string.Join(' ', corners.Select(c => $"({Mm(c.X)}, {Mm(c.Y)})"))} mm";
        var section = new OutlineSection("polygon", notation, new Outline().Polygon([.. corners.Select(c => new Corner(c.X, c.Y))]));
        return section.AreaCm2 > 1e-9 * section.HeightMm * section.OverallWidthMm / 100
            ? section
            : throw new SectionException("the corners enclose no area.");
    }

    /// <summary>A bundle: rows one above the other, columns side by side, each bar touching its neighbours' outermost points.</summary>
    /// <param name="bar">One bar, as it lies.</param>
    /// <param name="rows">Rows.</param>
    /// <param name="columns">Columns.</param>
    /// <exception cref="SectionException">The numbers are out of their bounds.</exception>
    public static Section Bundle(Section bar, int rows, int columns)
    {
        if (rows < 1 || columns < 1 || (long)rows * columns > MostBars)
            throw new SectionException($"a bundle of {rows} x {columns} bars; give rows and columns of at least 1 and {MostBars} bars at most.");
        return rows == 1 && columns == 1 ? bar : new BundleSection(bar, rows, columns);
    }

    /// <summary>A mitre cut: the contact is wider by 1 / cos(angle) in the plane of the vise.</summary>
    /// <param name="section">The section across the bar.</param>
    /// <param name="degrees">Angle from the square cut, degrees, either way.</param>
    /// <exception cref="SectionException">The angle is out of its bounds.</exception>
    public static Section Mitre(Section section, double degrees)
    {
        if (!(Math.Abs(degrees) <= SteepestMitre))
            throw new SectionException($"mitre {Mm(degrees)} deg is not between -{SteepestMitre} and {SteepestMitre} deg; 0 is a square cut.");
        return degrees == 0 ? section : new MitredSection(section, degrees);
    }

    /// <summary>Refuses an outline of which two sides cross or touch other than at their common corner.</summary>
    private static void RefuseCrossing(IReadOnlyList<(double X, double Y)> c)
    {
        var n = c.Count;
        for (var i = 0; i < n; i++)
        {
            if (c[i] == c[(i + 1) % n])
                throw new SectionException($"corner {i + 1} ({Mm(c[i].X)}, {Mm(c[i].Y)}) is given twice in a row.");
        }

        for (var i = 0; i < n; i++)
        {
            for (var k = i + 1; k < n; k++)
            {
                var neighbours = k == i + 1 || (i == 0 && k == n - 1);
                var crossing = neighbours ? FoldsBack(c, i, k, n) : Meet(c[i], c[(i + 1) % n], c[k], c[(k + 1) % n]);
                if (crossing)
                    throw new SectionException($"side {i + 1} and side {k + 1} cross or touch; give the corners in the order of the outline.");
            }
        }
    }

    /// <summary>Whether two neighbouring sides lie on each other.</summary>
    private static bool FoldsBack(IReadOnlyList<(double X, double Y)> c, int i, int k, int n)
    {
        var (before, corner, after) = k == i + 1 ? (c[i], c[k], c[(k + 1) % n]) : (c[k], c[i], c[(i + 1) % n]);
        var dot = ((before.X - corner.X) * (after.X - corner.X)) + ((before.Y - corner.Y) * (after.Y - corner.Y));
        return dot > 0 && Side(before, corner, after) == 0;
    }

    private static bool Meet((double X, double Y) a, (double X, double Y) b, (double X, double Y) c, (double X, double Y) d)
    {
        var (s1, s2, s3, s4) = (Side(a, b, c), Side(a, b, d), Side(c, d, a), Side(c, d, b));
        if (s1 * s2 < 0 && s3 * s4 < 0)
            return true;
        return (s1 == 0 && Within(a, b, c)) || (s2 == 0 && Within(a, b, d)) || (s3 == 0 && Within(c, d, a)) || (s4 == 0 && Within(c, d, b));
    }

    /// <summary>On which side of a-b the point c lies: -1, 0 or 1, where 0 is within rounding of the line.</summary>
    private static int Side((double X, double Y) a, (double X, double Y) b, (double X, double Y) c)
    {
        var (ux, uy, vx, vy) = (b.X - a.X, b.Y - a.Y, c.X - a.X, c.Y - a.Y);
        var cross = (ux * vy) - (uy * vx);
        return Math.Abs(cross) <= 1e-12 * ((Math.Abs(ux) + Math.Abs(uy)) * (Math.Abs(vx) + Math.Abs(vy))) ? 0 : Math.Sign(cross);
    }

    private static bool Within((double X, double Y) a, (double X, double Y) b, (double X, double Y) p) =>
        p.X >= Math.Min(a.X, b.X) && p.X <= Math.Max(a.X, b.X) && p.Y >= Math.Min(a.Y, b.Y) && p.Y <= Math.Max(a.Y, b.Y);
}
