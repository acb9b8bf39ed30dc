namespace SawEdge.Core.Sections;

/// <summary>
/// A section bounded by straight lines and circular arcs. The height is cut into bands in which the same edges bound the
/// stock from left to right; widths and areas are then closed-form sums over the edges of a band.
/// </summary>
internal sealed class OutlineSection : Section
{
    private readonly double[] _bandEnds;
    private readonly int[] _bandStarts;
    private readonly Edge[] _edges;
    private readonly double[] _areaAbove;
    private readonly double[] _breaks;

    /// <summary>Cuts an outline into bands.</summary>
    /// <exception cref="SectionException">The outline encloses no area or crosses itself.</exception>
    public OutlineSection(string family, string notation, Outline outline)
    {
        Family = family;
        Notation = notation;
        HeightMm = outline.BottomMm - outline.TopMm;
        OverallWidthMm = outline.RightMm - outline.LeftMm;
        var levels = Levels(outline);
        if (levels.Count < 2)
            throw new SectionException("the outline encloses no area.");

        _bandEnds = [.. levels.Skip(1)];
        _bandStarts = new int[levels.Count];
        _areaAbove = new double[levels.Count];
        var edges = new List<Edge>();
        for (var band = 0; band < _bandEnds.Length; band++)
        {
            _bandStarts[band] = edges.Count;
            var (from, to) = (levels[band], levels[band + 1]);
            var middle = 0.5 * (from + to);
            var inBand = outline.Edges
                .Where(e => Nearest(levels, e.FromMm - outline.TopMm) <= from && Nearest(levels, e.ToMm - outline.TopMm) >= to)
                .Select(e => e.Moved(-outline.LeftMm, -outline.TopMm, from, to))
                .OrderBy(e => e.At(middle))
                .ToList();
            if (inBand.Count % 2 != 0)
                throw new SectionException("the outline does not close.");
            edges.AddRange(inBand);
            MaximumSegments = Math.Max(MaximumSegments, inBand.Count / 2);
            _areaAbove[band + 1] = _areaAbove[band] + Integral(inBand, from, to);
        }

        _bandStarts[^1] = edges.Count;
        _edges = [.. edges];
        AreaCm2 = _areaAbove[^1] / 100;
        _breaks = [.. Enumerable.Range(0, _bandEnds.Length - 1).Where(IsBreak).Select(band => _bandEnds[band])];
    }

    private OutlineSection(OutlineSection other, string notation)
    {
        (_bandEnds, _bandStarts, _edges, _areaAbove, _breaks) = (other._bandEnds, other._bandStarts, other._edges, other._areaAbove, other._breaks);
        (HeightMm, OverallWidthMm, AreaCm2, MaximumSegments) = (other.HeightMm, other.OverallWidthMm, other.AreaCm2, other.MaximumSegments);
        (Family, Notation) = (other.Family, notation);
    }

    /// <inheritdoc/>
    public override double HeightMm { get; }

    /// <inheritdoc/>
    public override double OverallWidthMm { get; }

    /// <inheritdoc/>
    public override double AreaCm2 { get; }

    /// <inheritdoc/>
    public override IReadOnlyList<double> BreaksMm => _breaks;

    /// <inheritdoc/>
    public override int MaximumSegments { get; }

    /// <inheritdoc/>
    public override string Family { get; }

    /// <inheritdoc/>
    public override string Notation { get; }

    /// <summary>The same section under another notation.</summary>
    public OutlineSection Named(string notation) => new(this, notation);

    /// <inheritdoc/>
    public override double WidthAt(double depthMm)
    {
        if (!(depthMm >= 0 && depthMm <= HeightMm))
            return 0;
        return WidthIn(BandOf(depthMm), depthMm);
    }

    /// <inheritdoc/>
    public override int SegmentsAt(double depthMm, Span<ContactSegment> segments)
    {
        if (!(depthMm >= 0 && depthMm <= HeightMm))
            return 0;
        var band = BandOf(depthMm);
        var count = 0;
        for (var i = _bandStarts[band]; i < _bandStarts[band + 1]; i += 2)
        {
            var from = _edges[i].At(depthMm);
            segments[count++] = new ContactSegment(from, Math.Max(from, _edges[i + 1].At(depthMm)));
        }

        return count;
    }

    /// <inheritdoc/>
    public override double AreaBetweenCm2(double fromMm, double toMm) => (AreaAbove(toMm) - AreaAbove(fromMm)) / 100;

    private double AreaAbove(double depthMm)
    {
        var depth = Math.Clamp(depthMm, 0, HeightMm);
        var band = BandOf(depth);
        var area = _areaAbove[band];
        var from = band == 0 ? 0 : _bandEnds[band - 1];
        for (var i = _bandStarts[band]; i < _bandStarts[band + 1]; i += 2)
            area += _edges[i + 1].Integral(from, depth) - _edges[i].Integral(from, depth);
        return area;
    }

    private double WidthIn(int band, double depthMm)
    {
        var width = 0.0;
        for (var i = _bandStarts[band]; i < _bandStarts[band + 1]; i += 2)
            width += Math.Max(0, _edges[i + 1].At(depthMm) - _edges[i].At(depthMm));
        return width;
    }

    private double SlopeIn(int band, double depthMm)
    {
        var slope = 0.0;
        for (var i = _bandStarts[band]; i < _bandStarts[band + 1]; i += 2)
            slope += _edges[i + 1].SlopeAt(depthMm) - _edges[i].SlopeAt(depthMm);
        return slope;
    }

    /// <summary>The band a depth lies in; a depth on a boundary belongs to the band below it, the last depth to the last band.</summary>
    private int BandOf(double depthMm)
    {
        var (low, high) = (0, _bandEnds.Length - 1);
        while (low < high)
        {
            var middle = (low + high) >> 1;
            if (depthMm < _bandEnds[middle])
                high = middle;
            else
                low = middle + 1;
        }

        return low;
    }

    /// <summary>Whether the width jumps or bends sharply where a band ends; a passing quarter of a circle is no break.</summary>
    private bool IsBreak(int band)
    {
        var at = _bandEnds[band];
        var (above, below) = (WidthIn(band, at), WidthIn(band + 1, at));
        if (Math.Abs(above - below) > 1e-9 * OverallWidthMm)
            return true;
        var (slopeAbove, slopeBelow) = (SlopeIn(band, at), SlopeIn(band + 1, at));
        return !double.IsFinite(slopeAbove) || !(Math.Abs(slopeAbove - slopeBelow) <= 1e-6 * (1 + Math.Abs(slopeAbove)));
    }

    private static double Integral(List<Edge> edges, double fromMm, double toMm)
    {
        var area = 0.0;
        for (var i = 0; i < edges.Count; i += 2)
            area += edges[i + 1].Integral(fromMm, toMm) - edges[i].Integral(fromMm, toMm);
        return area;
    }

    /// <summary>The depths at which any edge begins or ends, rising; those closer than a billionth of the size are one.</summary>
    private static List<double> Levels(Outline outline)
    {
        var near = 1e-9 * Math.Max(outline.BottomMm - outline.TopMm, outline.RightMm - outline.LeftMm);
        var levels = new List<double>();
        foreach (var depth in outline.Edges.SelectMany(e => new[] { e.FromMm - outline.TopMm, e.ToMm - outline.TopMm }).Order())
        {
            if (levels.Count == 0 || depth - levels[^1] > near)
                levels.Add(depth);
        }

        return levels;
    }

    private static double Nearest(List<double> levels, double depth)
    {
        var index = levels.BinarySearch(depth);
        if (index >= 0)
            return levels[index];
        index = ~index;
        if (index == 0)
            return levels[0];
        if (index == levels.Count)
            return levels[^1];
        return depth - levels[index - 1] < levels[index] - depth ? levels[index - 1] : levels[index];
    }
}
