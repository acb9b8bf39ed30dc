namespace SawEdge.Core.Sections;

/// <summary>A place on a section's outline, mm.</summary>
/// <param name="X">Across the saw, from the left edge.</param>
/// <param name="Y">Depth below the top.</param>
public readonly record struct OutlinePoint(double X, double Y);

/// <summary>
/// The boundary of a section as closed polylines, for drawing: made from the contact segments at many depths alone, so that every section has
/// one. Holes are polylines of their own; filled by the even-odd rule they give the section, its area to within a few thousandths.
/// </summary>
public static class SectionOutline
{
    // How often a stretch is parted at most.
    private const int MostSplits = 9;

    // Not in the middle, where bars of a bundle touch.
    private const double Middle = 0.47;

    // Where it is looked whether a stretch is straight, as shares of it: both ends first and last, and close to them, where corners are rounded.
    private static readonly double[] Looks = [0, 0.02, 0.1, 0.26, 0.51, 0.76, 0.9, 0.98, 1];

    // So close above or below a level the width is still that of its side, as a share of the height.
    private const double Near = 1e-7;

    /// <summary>The outline of a section; the first point of a polyline is not repeated at its end.</summary>
    public static IReadOnlyList<IReadOnlyList<OutlinePoint>> Of(Section section)
    {
        var levels = LevelsOf(section);
        var from = new Dictionary<Point, List<Point>>();
        void Add(Point a, Point b)
        {
            if (a == b)
                return;
            if (from.TryGetValue(a, out var ends))
                ends.Add(b);
            else
                from[a] = [b];
        }

        // Around the stock with it on the right hand: down on its right side, up on its left one.
        Span<ContactSegment> room = section.MaximumSegments <= 256 ? stackalloc ContactSegment[section.MaximumSegments] : new ContactSegment[section.MaximumSegments];
        var above = new List<(long From, long To)>();
        for (var i = 0; i < levels.Count; i++)
        {
            var y = Whole(levels[i]);
            var (upper, lower) = (new List<(long From, long To)>(), new List<(long From, long To)>());
            if (i < levels.Count - 1)
                Slab(section, levels[i], levels[i + 1], room, upper, lower);
            Level(above, upper, y, Add);
            var next = i < levels.Count - 1 ? Whole(levels[i + 1]) : y;
            for (var k = 0; k < upper.Count; k++)
            {
                Add(new Point(upper[k].To, y), new Point(lower[k].To, next));
                Add(new Point(lower[k].From, next), new Point(upper[k].From, y));
            }

            above = lower;
        }

        return Loops(from);
    }

    // Between two breaks of the width, as many as it takes until the sides are straight from one to the next.
    private static List<double> LevelsOf(Section section)
    {
        double[] ends = [0, .. section.BreaksMm, section.HeightMm];
        var levels = new List<double> { 0 };
        var room = new ContactSegment[Looks.Length][];
        for (var i = 0; i < room.Length; i++)
            room[i] = new ContactSegment[section.MaximumSegments];
        for (var i = 0; i + 1 < ends.Length; i++)
            Split(section, ends[i], ends[i + 1], MostSplits, room, levels);
        return levels;
    }

    private static void Split(Section section, double begin, double end, int splits, ContactSegment[][] room, List<double> levels)
    {
        if (splits > 0 && !IsStraight(section, begin, end, room))
        {
            var middle = begin + (Middle * (end - begin));
            Split(section, begin, middle, splits - 1, room, levels);
            Split(section, middle, end, splits - 1, room, levels);
            return;
        }

        levels.Add(end);
    }

    private static bool IsStraight(Section section, double begin, double end, ContactSegment[][] room)
    {
        var near = Math.Min(Near * section.HeightMm, (end - begin) / 4);
        var (first, length) = (begin + near, end - begin - (2 * near));
        var tolerance = 0.01 + (2e-4 * section.HeightMm);
        var count = -1;
        for (var i = 0; i < Looks.Length; i++)
        {
            var found = section.SegmentsAt(first + (Looks[i] * length), room[i]);
            if (count >= 0 && found != count)
                return false;
            count = found;
        }

        for (var k = 0; k < count; k++)
        {
            var (top, bottom) = (room[0][k], room[^1][k]);
            for (var i = 1; i < Looks.Length - 1; i++)
            {
                if (Math.Abs(room[i][k].FromMm - top.FromMm - (Looks[i] * (bottom.FromMm - top.FromMm))) > tolerance
                    || Math.Abs(room[i][k].ToMm - top.ToMm - (Looks[i] * (bottom.ToMm - top.ToMm))) > tolerance)
                    return false;
            }
        }

        return true;
    }

    private static void Slab(Section section, double begin, double end, Span<ContactSegment> room, List<(long From, long To)> upper, List<(long From, long To)> lower)
    {
        var near = Math.Min(Near * section.HeightMm, (end - begin) / 4);
        Read(section, begin + near, room, upper);
        Read(section, end - near, room, lower);
        if (upper.Count == lower.Count)
            return;

        // Stretches that part or meet between: as they are in the middle.
        upper.Clear();
        lower.Clear();
        Read(section, (begin + end) / 2, room, upper);
        lower.AddRange(upper);
    }

    private static void Read(Section section, double depth, Span<ContactSegment> room, List<(long From, long To)> into)
    {
        var count = section.SegmentsAt(depth, room);
        for (var k = 0; k < count; k++)
            into.Add((Whole(room[k].FromMm), Whole(room[k].ToMm)));
    }

    // The level boundary between what is above and what is below: where only one of them is stock.
    private static void Level(List<(long From, long To)> above, List<(long From, long To)> below, long y, Action<Point, Point> add)
    {
        long[] places = [.. above.Concat(below).SelectMany(segment => new[] { segment.From, segment.To }).Distinct().Order()];
        for (var i = 0; i + 1 < places.Length; i++)
        {
            var middle = (places[i] + places[i + 1]) / 2.0;
            bool In(List<(long From, long To)> segments) => segments.Exists(segment => segment.From < middle && middle < segment.To);
            var (isAbove, isBelow) = (In(above), In(below));
            if (isBelow && !isAbove)
                add(new Point(places[i], y), new Point(places[i + 1], y));
            else if (isAbove && !isBelow)
                add(new Point(places[i + 1], y), new Point(places[i], y));
        }
    }

    private static List<IReadOnlyList<OutlinePoint>> Loops(Dictionary<Point, List<Point>> from)
    {
        var loops = new List<IReadOnlyList<OutlinePoint>>();
        foreach (var start in from.Keys.OrderBy(point => point.Y).ThenBy(point => point.X).ToList())
        {
            while (from[start].Count > 0)
            {
                var loop = new List<Point>();
                var at = start;
                do
                {
                    loop.Add(at);
                    var ends = from[at];
                    at = ends[^1];
                    ends.RemoveAt(ends.Count - 1);
                }
                while (at != start && from.TryGetValue(at, out var next) && next.Count > 0);
                if (Without(loop) is { Count: >= 3 } corners)
                    loops.Add([.. corners.Select(point => new OutlinePoint(point.X / 1000.0, point.Y / 1000.0))]);
            }
        }

        return loops;
    }

    // Without the points that lie on a straight line between their neighbours.
    private static List<Point> Without(List<Point> loop) =>
        [.. loop.Where((point, i) =>
        {
            var (before, after) = (loop[(i + loop.Count - 1) % loop.Count], loop[(i + 1) % loop.Count]);
            return ((point.X - before.X) * (after.Y - point.Y)) - ((point.Y - before.Y) * (after.X - point.X)) != 0;
        })];

    // In thousandths of a millimetre, so that ends that meet are the same.
    private static long Whole(double mm) => (long)Math.Round(mm * 1000);

    private readonly record struct Point(long X, long Y);
}
