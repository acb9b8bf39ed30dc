namespace SawEdge.Core.Sections;

/// <summary>Bars in rows and columns. Everything is asked of one bar; stretches that touch are one stretch.</summary>
internal sealed class BundleSection : Section
{
    private readonly Section _bar;
    private readonly int _rows;
    private readonly int _columns;
    private readonly double[] _breaks;

    /// <summary>A bundle of at least two bars.</summary>
    public BundleSection(Section bar, int rows, int columns)
    {
        (_bar, _rows, _columns) = (bar, rows, columns);
        HeightMm = bar.HeightMm * rows;
        OverallWidthMm = bar.OverallWidthMm * columns;
        AreaCm2 = bar.AreaCm2 * rows * columns;
        MaximumSegments = bar.MaximumSegments * columns;
        Notation = $"bundle {rows} x {columns} of {bar.Notation}";
        var breaks = new List<double>();
        for (var row = 0; row < rows; row++)
        {
            if (row > 0)
                breaks.Add(row * bar.HeightMm);
            breaks.AddRange(bar.BreaksMm.Select(b => (row * bar.HeightMm) + b));
        }

        _breaks = [.. breaks];
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
    public override string Family => "bundle";

    /// <inheritdoc/>
    public override int PiecesPerCut => _rows * _columns * _bar.PiecesPerCut;

    /// <inheritdoc/>
    public override double MitreDegrees => _bar.MitreDegrees;

    /// <inheritdoc/>
    public override string Notation { get; }

    /// <inheritdoc/>
    public override double WidthAt(double depthMm) =>
        depthMm >= 0 && depthMm <= HeightMm ? _columns * _bar.WidthAt(InBar(depthMm, RowOf(depthMm))) : 0;

    /// <inheritdoc/>
    public override int SegmentsAt(double depthMm, Span<ContactSegment> segments)
    {
        if (!(depthMm >= 0 && depthMm <= HeightMm))
            return 0;
        var one = _bar.SegmentsAt(InBar(depthMm, RowOf(depthMm)), segments);
        for (var column = 1; column < _columns; column++)
        {
            var shift = column * _bar.OverallWidthMm;
            for (var i = 0; i < one; i++)
                segments[(column * one) + i] = new ContactSegment(segments[i].FromMm + shift, segments[i].ToMm + shift);
        }

        return Join(segments[..(one * _columns)], 1e-9 * OverallWidthMm);
    }

    /// <inheritdoc/>
    public override double AreaBetweenCm2(double fromMm, double toMm) => AreaAbove(toMm) - AreaAbove(fromMm);

    private static int Join(Span<ContactSegment> segments, double near)
    {
        if (segments.IsEmpty)
            return 0;
        var last = 0;
        for (var i = 1; i < segments.Length; i++)
        {
            if (segments[i].FromMm - segments[last].ToMm <= near)
                segments[last] = segments[last] with { ToMm = segments[i].ToMm };
            else
                segments[++last] = segments[i];
        }

        return last + 1;
    }

    private double AreaAbove(double depthMm)
    {
        var depth = Math.Clamp(depthMm, 0, HeightMm);
        var row = RowOf(depth);
        return _columns * ((row * _bar.AreaCm2) + _bar.AreaBetweenCm2(0, InBar(depth, row)));
    }

    private int RowOf(double depthMm) => Math.Min((int)(depthMm / _bar.HeightMm), _rows - 1);

    private double InBar(double depthMm, int row) => Math.Clamp(depthMm - (row * _bar.HeightMm), 0, _bar.HeightMm);
}
