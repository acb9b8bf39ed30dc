namespace SawEdge.Core.Sections;

/// <summary>A section cut at an angle in the plane of the vise: everything across the saw is wider by 1 / cos(angle).</summary>
internal sealed class MitredSection : Section
{
    private readonly Section _square;
    private readonly double _wider;

    /// <summary>A mitre cut of a section.</summary>
    public MitredSection(Section square, double degrees)
    {
        _square = square;
        MitreDegrees = degrees;
        _wider = 1 / Math.Cos(degrees * Math.PI / 180);
        Notation = $"{square.Notation}, mitre {SectionFactory.Mm(degrees)} deg";
    }

    /// <inheritdoc/>
    public override double HeightMm => _square.HeightMm;

    /// <inheritdoc/>
    public override double OverallWidthMm => _square.OverallWidthMm * _wider;

    /// <inheritdoc/>
    public override double AreaCm2 => _square.AreaCm2 * _wider;

    /// <inheritdoc/>
    public override IReadOnlyList<double> BreaksMm => _square.BreaksMm;

    /// <inheritdoc/>
    public override int MaximumSegments => _square.MaximumSegments;

    /// <inheritdoc/>
    public override string Family => _square.Family;

    /// <inheritdoc/>
    public override int PiecesPerCut => _square.PiecesPerCut;

    /// <inheritdoc/>
    public override double MitreDegrees { get; }

    /// <inheritdoc/>
    public override string Notation { get; }

    /// <inheritdoc/>
    public override double WidthAt(double depthMm) => _square.WidthAt(depthMm) * _wider;

    /// <inheritdoc/>
    public override int SegmentsAt(double depthMm, Span<ContactSegment> segments)
    {
        var count = _square.SegmentsAt(depthMm, segments);
        for (var i = 0; i < count; i++)
            segments[i] = new ContactSegment(segments[i].FromMm * _wider, segments[i].ToMm * _wider);
        return count;
    }

    /// <inheritdoc/>
    public override double AreaBetweenCm2(double fromMm, double toMm) => _square.AreaBetweenCm2(fromMm, toMm) * _wider;
}
