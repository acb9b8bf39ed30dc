using System.Globalization;

namespace SawEdge.Core.Sections;

/// <summary>
/// Builds sections from their dimensions, mm. Width is across the saw, height is in the direction of the cut. Every size is
/// checked; what makes no section is refused with a <see cref="SectionException"/> that names the size.
/// </summary>
public static partial class SectionFactory
{
    /// <summary>A solid round bar.</summary>
    /// <exception cref="SectionException">The diameter is not above zero.</exception>
    public static Section Round(double diameterMm)
    {
        Positive(diameterMm, "diameter");
        var outline = new Outline().Circle(0, 0, diameterMm / 2);
        return new OutlineSection("round", $"round {Mm(diameterMm)} mm", outline);
    }

    /// <summary>A solid rectangular or square bar, lying in the vise as width across and height down.</summary>
    /// <exception cref="SectionException">A side is not above zero.</exception>
    public static Section Rectangle(double widthMm, double heightMm)
    {
        Positive(widthMm, "width");
        Positive(heightMm, "height");
        var outline = new Outline().Polygon(Box(widthMm, heightMm, 0));
        var notation = widthMm == heightMm ? $"square {Mm(widthMm)} mm" : $"rect {Mm(widthMm)} x {Mm(heightMm)} mm";
        return new OutlineSection("rect", notation, outline);
    }

    /// <summary>A round tube or pipe.</summary>
    /// <param name="outerDiameterMm">Outside diameter, mm.</param>
    /// <param name="wallMm">Wall, mm: the nominal wall, which is what the saw cuts.</param>
    /// <exception cref="SectionException">A size is not above zero, or the wall is not thinner than half the diameter.</exception>
    public static Section RoundTube(double outerDiameterMm, double wallMm)
    {
        Positive(outerDiameterMm, "outside diameter");
        Positive(wallMm, "wall");
        Wall(wallMm, outerDiameterMm, "diameter");
        var outline = new Outline().Circle(0, 0, outerDiameterMm / 2).Circle(0, 0, (outerDiameterMm / 2) - wallMm);
        return new OutlineSection("tube", $"tube {Mm(outerDiameterMm)} x {Mm(wallMm)} mm wall", outline);
    }

    /// <summary>A rectangular or square tube.</summary>
    /// <param name="widthMm">Width across the saw, mm.</param>
    /// <param name="heightMm">Height, mm.</param>
    /// <param name="wallMm">Nominal wall, mm.</param>
    /// <param name="outerCornerMm">Outer corner radius, mm; null for that of cold-formed tube (<see cref="ColdFormedCorners"/>).</param>
    /// <param name="innerCornerMm">Inner corner radius, mm; null for the outer one less the wall.</param>
    /// <exception cref="SectionException">A size is out of its bounds.</exception>
    public static Section RectangularTube(double widthMm, double heightMm, double wallMm, double? outerCornerMm = null, double? innerCornerMm = null)
    {
        Positive(widthMm, "width");
        Positive(heightMm, "height");
        Positive(wallMm, "wall");
        var least = Math.Min(widthMm, heightMm);
        Wall(wallMm, least, least == heightMm ? "height" : "width");
        var outer = outerCornerMm ?? Math.Min(ColdFormedCorners(wallMm).OuterMm, least / 2);
        var inner = innerCornerMm ?? Math.Clamp(outer - wallMm, 0, (least / 2) - wallMm);
        Radius(outer, least / 2, "outer corner radius");
        Radius(inner, (least / 2) - wallMm, "inner corner radius");
        var outline = new Outline()
            .Polygon(Box(widthMm, heightMm, outer))
            .Polygon(Box(widthMm - (2 * wallMm), heightMm - (2 * wallMm), inner));
        var notation = string.Create(
            CultureInfo.InvariantCulture,
            $"rect tube {Mm(widthMm)} x {Mm(heightMm)} x {Mm(wallMm)} mm wall, corner {Mm(outer)} mm, inner corner {Mm(inner)} mm");
        return new OutlineSection("rect_tube", notation, outline);
    }

    /// <summary>Corner radii of cold-formed hollow sections for the calculation of their properties, EN 10219-2: 2.0 t and 1.0 t up to 6 mm, 2.5 t and 1.5 t up to 10 mm, 3.0 t and 2.0 t above.</summary>
    /// <param name="wallMm">Wall, mm.</param>
    public static (double OuterMm, double InnerMm) ColdFormedCorners(double wallMm) =>
        wallMm <= 6 ? (2 * wallMm, wallMm) : wallMm <= 10 ? (2.5 * wallMm, 1.5 * wallMm) : (3 * wallMm, 2 * wallMm);

    /// <summary>Corner radii of hot-finished hollow sections for the calculation of their properties, EN 10210-2: 1.5 t and 1.0 t.</summary>
    /// <param name="wallMm">Wall, mm.</param>
    public static (double OuterMm, double InnerMm) HotFinishedCorners(double wallMm) => (1.5 * wallMm, wallMm);

    /// <summary>The corners of an upright box around the origin.</summary>
    private static Corner[] Box(double width, double height, double radius) =>
    [
        new(-width / 2, -height / 2, radius), new(width / 2, -height / 2, radius),
        new(width / 2, height / 2, radius), new(-width / 2, height / 2, radius),
    ];

    /// <summary>A length as the notation writes it: to the tenth of a micrometre, without trailing zeros.</summary>
    internal static string Mm(double value) => value.ToString("0.####", CultureInfo.InvariantCulture);

    private static void Positive(double value, string name)
    {
        if (!(value > 0) || !double.IsFinite(value))
            throw new SectionException($"{name} {Mm(value)} mm is not above zero.");
        if (value > LargestMm)
            throw new SectionException($"{name} {Mm(value)} mm is more than {Mm(LargestMm)} mm; is the unit right?");
    }

    private static void Wall(double wall, double across, string name)
    {
        if (wall >= across / 2)
            throw new SectionException($"wall {Mm(wall)} mm is not thinner than half the {name} ({Mm(across / 2)} mm); give a thinner wall or a solid bar.");
    }

    private static void Radius(double radius, double greatest, string name)
    {
        if (!(radius >= 0 && radius <= greatest + 1e-9))
            throw new SectionException($"{name} {Mm(radius)} mm is not between 0 and {Mm(greatest)} mm.");
    }

    /// <summary>No saw takes more; a size above it is a slip of the unit.</summary>
    private const double LargestMm = 10_000;
}
