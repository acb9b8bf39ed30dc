using SawEdge.Core.Notation;

namespace SawEdge.Core.Sections;

/// <summary>
/// One stretch of a section's boundary on which the place across the saw is a single function of the depth:
/// a straight line, or one side of a circle. Lengths in mm.
/// </summary>
internal readonly struct Edge
{
    // A line: place and depth of its anchor (_a, _radius) and its slope (_b). A circle: centre (_a, _b) and radius.
    private readonly double _a;
    private readonly double _b;
    private readonly double _radius;
    private readonly double _side;

    private Edge(double fromMm, double toMm, double a, double b, double radius, double side)
    {
        FromMm = fromMm;
        ToMm = toMm;
        _a = a;
        _b = b;
        _radius = radius;
        _side = side;
    }

    /// <summary>Depth where the stretch begins, mm.</summary>
    public double FromMm { get; }

    /// <summary>Depth where the stretch ends, mm; greater than <see cref="FromMm"/>.</summary>
    public double ToMm { get; }

    /// <summary>The straight line between two points; the depths must differ.</summary>
    public static Edge Line(double x0, double y0, double x1, double y1)
    {
        // Anchored at its upper end: a line that is all but level has a slope that would drown the place in rounding elsewhere.
        var slope = (x1 - x0) / (y1 - y0);
        return y0 < y1 ? new Edge(y0, y1, x0, slope, y0, 0) : new Edge(y1, y0, x1, slope, y1, 0);
    }

    /// <summary>The left (-1) or right (+1) side of a circle between two depths.</summary>
    public static Edge Arc(double centreX, double centreY, double radius, double side, double y0, double y1) =>
        new(Math.Min(y0, y1), Math.Max(y0, y1), centreX, centreY, radius, side);

    /// <summary>The same stretch, moved, and held to the given depths.</summary>
    public Edge Moved(double dx, double dy, double fromMm, double toMm) => _side == 0
        ? new Edge(fromMm, toMm, _a + dx, _b, _radius + dy, 0)
        : new Edge(fromMm, toMm, _a + dx, _b + dy, _radius, _side);

    /// <summary>Place across the saw at a depth, mm.</summary>
    public double At(double depthMm)
    {
        if (_side == 0)
            return _a + (_b * (depthMm - _radius));
        var t = depthMm - _b;
        return _a + (_side * Math.Sqrt(Math.Max(0, (_radius - t) * (_radius + t))));
    }

    /// <summary>Change of place per depth; infinite at the top and the bottom of a circle.</summary>
    public double SlopeAt(double depthMm)
    {
        if (_side == 0)
            return _b;
        var t = depthMm - _b;
        var root = Math.Sqrt(Math.Max(0, (_radius - t) * (_radius + t)));
        return root < 1e-6 * _radius ? double.PositiveInfinity * -_side * Math.Sign(t) : -_side * t / root;
    }

    /// <summary>Integral of the place over depth, mm2, in closed form.</summary>
    public double Integral(double fromMm, double toMm) => _side == 0
        ? (toMm - fromMm) * (_a + (_b * ((0.5 * (fromMm + toMm)) - _radius)))
        : (_a * (toMm - fromMm)) + (_side * (HalfSegment(toMm - _b) - HalfSegment(fromMm - _b)));

    /// <summary>Integral of sqrt(r2 - t2) from 0 to t.</summary>
    private double HalfSegment(double t)
    {
        var held = Math.Clamp(t, -_radius, _radius);
        var half = Math.Sqrt((_radius - held) * (_radius + held));

        // The arc tangent of the same two sides: an arc sine would lose half of the digits near the top and the bottom.
        return 0.5 * ((held * half) + (_radius * _radius * Math.Atan2(held, half)));
    }
}
