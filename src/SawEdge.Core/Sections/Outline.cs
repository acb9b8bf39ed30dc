namespace SawEdge.Core.Sections;

/// <summary>A corner of an outline: a point and the radius its corner is rounded with (0: sharp), mm.</summary>
internal readonly record struct Corner(double X, double Y, double Radius = 0);

/// <summary>
/// The closed curves that bound a section: polygons with rounded corners, and circles. Coordinates as in a drawing,
/// x to the right and y up, mm. Holes are further curves; what is inside is told by the even-odd rule.
/// </summary>
internal sealed class Outline
{
    private readonly List<Edge> _edges = [];
    private readonly double _cos;
    private readonly double _sin;

    /// <summary>An empty outline.</summary>
    /// <param name="turnDegrees">How far everything added is turned, counter-clockwise.</param>
    public Outline(double turnDegrees = 0)
    {
        // Quarter turns are exact, so that level edges stay level.
        var quarter = Math.Round(turnDegrees / 90);
        if (Math.Abs(turnDegrees - (quarter * 90)) < 1e-12)
        {
            var index = (int)(((quarter % 4) + 4) % 4);
            _cos = index switch { 0 => 1, 2 => -1, _ => 0 };
            _sin = index switch { 1 => 1, 3 => -1, _ => 0 };
        }
        else
        {
            (_sin, _cos) = Math.SinCos(turnDegrees * Math.PI / 180);
        }
    }

    /// <summary>The edges so far, depth running downward (y negated), not yet moved to the section's own origin.</summary>
    public IReadOnlyList<Edge> Edges => _edges;

    /// <summary>Least and greatest place across, mm.</summary>
    public double LeftMm { get; private set; } = double.PositiveInfinity;

    /// <summary>Greatest place across, mm.</summary>
    public double RightMm { get; private set; } = double.NegativeInfinity;

    /// <summary>Depth of the highest point, mm.</summary>
    public double TopMm { get; private set; } = double.PositiveInfinity;

    /// <summary>Depth of the lowest point, mm.</summary>
    public double BottomMm { get; private set; } = double.NegativeInfinity;

    /// <summary>Adds a full circle.</summary>
    public Outline Circle(double centreX, double centreY, double radius)
    {
        var (x, y) = Turn(centreX, centreY);
        Arc(x, y, radius, 0, 2 * Math.PI);
        return this;
    }

    /// <summary>Adds a closed polygon whose corners may be rounded.</summary>
    /// <exception cref="SectionException">A radius does not fit between its neighbours.</exception>
    public Outline Polygon(params ReadOnlySpan<Corner> corners)
    {
        var n = corners.Length;
        var starts = new (double X, double Y)[n];
        var ends = new (double X, double Y)[n];
        for (var i = 0; i < n; i++)
            (starts[i], ends[i]) = Round(Turned(corners[(i + n - 1) % n]), Turned(corners[i]), Turned(corners[(i + 1) % n]));

        for (var i = 0; i < n; i++)
        {
            var (from, to) = (ends[i], starts[(i + 1) % n]);
            var (here, next) = (Turned(corners[i]), Turned(corners[(i + 1) % n]));
            var along = ((to.X - from.X) * (next.X - here.X)) + ((to.Y - from.Y) * (next.Y - here.Y));
            var length2 = ((next.X - here.X) * (next.X - here.X)) + ((next.Y - here.Y) * (next.Y - here.Y));
            if (along < -1e-9 * length2)
                throw new SectionException("the corner radii do not fit between the corners; give smaller radii.");
            Line(from.X, from.Y, to.X, to.Y);
        }

        return this;
    }

    private Corner Turned(Corner corner)
    {
        var (x, y) = Turn(corner.X, corner.Y);
        return new Corner(x, y, corner.Radius);
    }

    private (double X, double Y) Turn(double x, double y) => ((x * _cos) - (y * _sin), (x * _sin) + (y * _cos));

    /// <summary>Rounds one corner: adds its arc and answers where the arc begins and ends.</summary>
    private ((double X, double Y) Start, (double X, double Y) End) Round(Corner before, Corner corner, Corner after)
    {
        if (corner.Radius <= 0)
            return ((corner.X, corner.Y), (corner.X, corner.Y));
        var (ux, uy) = Direction(before, corner);
        var (vx, vy) = Direction(corner, after);
        var turn = Math.Atan2((ux * vy) - (uy * vx), (ux * vx) + (uy * vy));
        if (Math.Abs(turn) < 1e-12)
            return ((corner.X, corner.Y), (corner.X, corner.Y));
        var tangent = corner.Radius * Math.Tan(Math.Abs(turn) / 2);
        var start = (X: corner.X - (ux * tangent), Y: corner.Y - (uy * tangent));
        var end = (X: corner.X + (vx * tangent), Y: corner.Y + (vy * tangent));
        var hand = Math.Sign(turn);
        var centreX = start.X - (hand * uy * corner.Radius);
        var centreY = start.Y + (hand * ux * corner.Radius);
        Arc(centreX, centreY, corner.Radius, Math.Atan2(start.Y - centreY, start.X - centreX), turn);
        return (start, end);
    }

    private static (double X, double Y) Direction(Corner from, Corner to)
    {
        var (dx, dy) = (to.X - from.X, to.Y - from.Y);
        var length = Math.Sqrt((dx * dx) + (dy * dy));
        return (dx / length, dy / length);
    }

    private void Line(double x0, double y0, double x1, double y1)
    {
        Reach(x0, -y0);
        Reach(x1, -y1);
        if (y0 != y1)
            _edges.Add(Edge.Line(x0, -y0, x1, -y1));
    }

    /// <summary>Adds an arc in pieces that end at every quarter, so that each is monotone in both directions.</summary>
    private void Arc(double centreX, double centreY, double radius, double from, double sweep)
    {
        const double Quarter = Math.PI / 2;
        var (low, high) = sweep > 0 ? (from, from + sweep) : (from + sweep, from);
        var at = low;
        while (at < high - 1e-12)
        {
            var next = Math.Min(high, Quarter * (Math.Floor((at / Quarter) + 1e-9) + 1));
            var (y0, y1) = (centreY + (radius * SinOf(at)), centreY + (radius * SinOf(next)));
            Reach(centreX + (radius * SinOf(at + Quarter)), -y0);
            Reach(centreX + (radius * SinOf(next + Quarter)), -y1);
            if (y0 != y1)
                _edges.Add(Edge.Arc(centreX, -centreY, radius, Math.Sign(Math.Cos((at + next) / 2)), -y0, -y1));
            at = next;
        }
    }

    /// <summary>Sine, exact at the quarters.</summary>
    private static double SinOf(double angle)
    {
        var sine = Math.Sin(angle);
        return Math.Abs(sine) < 1e-12 ? 0 : Math.Abs(sine) > 1 - 1e-15 ? Math.Sign(sine) : sine;
    }

    private void Reach(double x, double depth)
    {
        LeftMm = Math.Min(LeftMm, x);
        RightMm = Math.Max(RightMm, x);
        TopMm = Math.Min(TopMm, depth);
        BottomMm = Math.Max(BottomMm, depth);
    }
}
