namespace SawEdge.Core.Sections;

/// <content>
/// Rolled profiles. They are drawn as the standards' tables draw them and then turned counter-clockwise by any angle. The order
/// of the sizes is that of the tables: height, width, web, flange, root radius.
/// </content>
public static partial class SectionFactory
{
    /// <summary>A solid hexagon bar, flat down.</summary>
    /// <param name="acrossFlatsMm">Across the flats, mm.</param>
    /// <param name="turnDegrees">Turned by; 30 lays it on a point.</param>
    /// <exception cref="SectionException">The size is not above zero.</exception>
    public static Section Hexagon(double acrossFlatsMm, double turnDegrees = 0)
    {
        Positive(acrossFlatsMm, "across flats");
        var corners = new Corner[6];
        var radius = acrossFlatsMm / Math.Sqrt(3);
        for (var i = 0; i < 6; i++)
        {
            // The corners' own places, so that flats stay level to the last digit whichever way it lies.
            var (sin, cos) = Math.SinCos((i * Math.PI / 3) + (turnDegrees * Math.PI / 180));
            corners[i] = new Corner(radius * cos, radius * sin);
        }

        return new OutlineSection("hex", $"hex {Mm(acrossFlatsMm)} mm{Turned(turnDegrees, (30, "point down"))}", new Outline().Polygon(corners));
    }

    /// <summary>An angle, equal or unequal: upright leg to the left, heel at the bottom left.</summary>
    /// <param name="heightMm">Length of the upright leg, mm.</param>
    /// <param name="widthMm">Length of the lying leg, mm.</param>
    /// <param name="thicknessMm">Thickness, mm.</param>
    /// <param name="rootMm">Root radius, mm.</param>
    /// <param name="toeMm">Toe radius, mm, on the inner side of each leg's end.</param>
    /// <param name="turnDegrees">Turned by; 225 lays an equal angle heel up, 45 heel down.</param>
    /// <exception cref="SectionException">A size is out of its bounds.</exception>
    public static Section Angle(double heightMm, double widthMm, double thicknessMm, double rootMm = 0, double toeMm = 0, double turnDegrees = 0)
    {
        Positive(heightMm, "height");
        Positive(widthMm, "width");
        Positive(thicknessMm, "thickness");
        Less(thicknessMm, "thickness", Math.Min(heightMm, widthMm), "the shorter leg");
        Radius(rootMm, Math.Min(heightMm, widthMm) - thicknessMm, "root radius");
        Radius(toeMm, thicknessMm, "toe radius");
        var outline = new Outline(turnDegrees).Polygon(
            new(0, 0),
            new(widthMm, 0),
            new(widthMm, thicknessMm, toeMm),
            new(thicknessMm, thicknessMm, rootMm),
            new(thicknessMm, heightMm, toeMm),
            new(0, heightMm));
        var notation = $"angle {Mm(heightMm)} x {Mm(widthMm)} x {Mm(thicknessMm)} mm{Extra("root", rootMm)}{Extra("toe", toeMm)}{Turned(turnDegrees, (225, "heel up"), (45, "heel down"))}";
        return new OutlineSection("angle", notation, outline);
    }

    /// <summary>A channel: web upright to the left, flanges to the right, with parallel or tapered flanges.</summary>
    /// <param name="heightMm">Height, mm.</param>
    /// <param name="widthMm">Width of the flanges, mm.</param>
    /// <param name="webMm">Thickness of the web, mm.</param>
    /// <param name="flangeMm">Thickness of the flanges at <paramref name="flangeAtMm"/>, mm.</param>
    /// <param name="rootMm">Root radius, mm.</param>
    /// <param name="toeMm">Toe radius, mm.</param>
    /// <param name="taper">Slope of the inner faces, for example 0.08 for 8 %; 0 for parallel flanges.</param>
    /// <param name="flangeAtMm">Where the flange thickness is measured, mm from the tips; null for the middle of the free flange, (b - tw) / 2.</param>
    /// <param name="turnDegrees">Turned by; 90 lays it on its web with the toes up, 270 with the toes down.</param>
    /// <exception cref="SectionException">A size is out of its bounds.</exception>
    public static Section Channel(
        double heightMm, double widthMm, double webMm, double flangeMm, double rootMm = 0, double toeMm = 0, double taper = 0, double? flangeAtMm = null, double turnDegrees = 0)
    {
        Profile(heightMm, widthMm, webMm, flangeMm, 2);
        var at = flangeAtMm ?? ((widthMm - webMm) / 2);
        var (tip, root) = (flangeMm - (taper * at), flangeMm + (taper * (widthMm - webMm - at)));
        if (!(taper >= 0 && taper < 1 && tip > 0 && 2 * root < heightMm))
            throw new SectionException($"taper {Mm(taper * 100)} % leaves no flange or no web; rolled channels have 0, 5, 8 or 16.7 %.");
        Radius(toeMm, tip, "toe radius");
        var outline = new Outline(turnDegrees).Polygon(
            new(0, 0),
            new(widthMm, 0),
            new(widthMm, tip, toeMm),
            new(webMm, root, rootMm),
            new(webMm, heightMm - root, rootMm),
            new(widthMm, heightMm - tip, toeMm),
            new(widthMm, heightMm),
            new(0, heightMm));
        var slope = taper == 0 ? "" : $", taper {Mm(taper * 100)} %" + (flangeAtMm is { } place ? $", flange at {Mm(place)} mm" : "");
        var notation = $"channel {Mm(heightMm)} x {Mm(widthMm)} x {Mm(webMm)} x {Mm(flangeMm)} mm{Extra("root", rootMm)}{Extra("toe", toeMm)}{slope}{Turned(turnDegrees, (90, "toes up"), (270, "toes down"))}";
        return new OutlineSection("channel", notation, outline);
    }

    /// <summary>An I or H section with parallel flanges: web upright.</summary>
    /// <param name="heightMm">Height, mm.</param>
    /// <param name="widthMm">Width of the flanges, mm.</param>
    /// <param name="webMm">Thickness of the web, mm.</param>
    /// <param name="flangeMm">Thickness of the flanges, mm.</param>
    /// <param name="rootMm">Root radius, mm.</param>
    /// <param name="turnDegrees">Turned by; 90 lays the web flat.</param>
    /// <exception cref="SectionException">A size is out of its bounds.</exception>
    public static Section Beam(double heightMm, double widthMm, double webMm, double flangeMm, double rootMm = 0, double turnDegrees = 0)
    {
        Profile(heightMm, widthMm, webMm, flangeMm, 2);
        var (half, web, inner) = (widthMm / 2, webMm / 2, heightMm - flangeMm);
        var outline = new Outline(turnDegrees).Polygon(
            new(-half, 0), new(half, 0), new(half, flangeMm), new(web, flangeMm, rootMm), new(web, inner, rootMm), new(half, inner),
            new(half, heightMm), new(-half, heightMm), new(-half, inner), new(-web, inner, rootMm), new(-web, flangeMm, rootMm), new(-half, flangeMm));
        var notation = $"i-section {Mm(heightMm)} x {Mm(widthMm)} x {Mm(webMm)} x {Mm(flangeMm)} mm{Extra("root", rootMm)}{Turned(turnDegrees, (90, "web flat"))}";
        return new OutlineSection("beam", notation, outline);
    }

    /// <summary>A tee: flange on top, stem down.</summary>
    /// <param name="heightMm">Height, mm.</param>
    /// <param name="widthMm">Width of the flange, mm.</param>
    /// <param name="webMm">Thickness of the stem, mm.</param>
    /// <param name="flangeMm">Thickness of the flange, mm.</param>
    /// <param name="rootMm">Root radius, mm.</param>
    /// <param name="turnDegrees">Turned by; 180 lays it on its flange.</param>
    /// <exception cref="SectionException">A size is out of its bounds.</exception>
    public static Section Tee(double heightMm, double widthMm, double webMm, double flangeMm, double rootMm = 0, double turnDegrees = 0)
    {
        Profile(heightMm, widthMm, webMm, flangeMm, 1);
        var (half, web, inner) = (widthMm / 2, webMm / 2, heightMm - flangeMm);
        var outline = new Outline(turnDegrees).Polygon(
            new(-web, 0), new(web, 0), new(web, inner, rootMm), new(half, inner), new(half, heightMm), new(-half, heightMm), new(-half, inner), new(-web, inner, rootMm));
        var notation = $"tee {Mm(heightMm)} x {Mm(widthMm)} x {Mm(webMm)} x {Mm(flangeMm)} mm{Extra("root", rootMm)}{Turned(turnDegrees, (180, "stem up"))}";
        return new OutlineSection("tee", notation, outline);
    }

    private static void Profile(double height, double width, double web, double flange, int flanges)
    {
        Positive(height, "height");
        Positive(width, "width");
        Positive(web, "web");
        Positive(flange, "flange");
        Less(web, "web", width, "the width");
        Less(flange * flanges, flanges == 2 ? "twice the flange" : "flange", height, "the height");
    }

    private static void Less(double value, string name, double limit, string limitName)
    {
        if (value >= limit)
            throw new SectionException($"{name} {Mm(value)} mm is not less than {limitName}, {Mm(limit)} mm.");
    }

    private static string Extra(string name, double mm) => mm == 0 ? "" : $", {name} {Mm(mm)} mm";

    /// <summary>The orientation as the notation writes it: words where there are some for the angle.</summary>
    internal static string Turned(double degrees, params ReadOnlySpan<(double Degrees, string Words)> named)
    {
        foreach (var (turn, words) in named)
        {
            if (degrees == turn)
                return ", " + words;
        }

        return degrees == 0 ? "" : $", turned {Mm(degrees)} deg";
    }
}
