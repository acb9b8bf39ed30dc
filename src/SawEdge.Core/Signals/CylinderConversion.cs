namespace SawEdge.Core.Signals;

/// <summary>
/// Height of the blade of a pivoting saw head from the stroke of the cylinder that holds it. The cylinder closes a triangle whose other sides
/// are the distances of its two pins from the head's pivot; the law of cosines gives the angle at the pivot. By the angle phi by which the
/// head is turned up from where the blade lies on the table, a blade whose cutting edge runs below the pivot by d stands at the distance c from the
/// pivot at <c>h = c tan(phi) - d (1 / cos(phi) - 1)</c> (plane geometry: the turned line cut by the upright at c).
/// </summary>
public sealed record CylinderConversion : ValueConversion
{
    private const double SteepestRad = 80 * Math.PI / 180;
    private readonly CylinderGeometry _geometry;
    private readonly double _scale;
    private readonly double _offsetMm;
    private readonly double _angleAtTable;

    /// <summary>States the geometry.</summary>
    /// <param name="geometry">The machine's measures.</param>
    /// <param name="scale">Factor from the raw value to the stroke, mm.</param>
    /// <param name="offsetMm">Added to the stroke, mm.</param>
    /// <exception cref="ArgumentException">The cylinder does not reach from pin to pin where the blade lies on the table.</exception>
    public CylinderConversion(CylinderGeometry geometry, double scale = 1, double offsetMm = 0)
    {
        _geometry = geometry;
        _scale = scale;
        _offsetMm = offsetMm;
        _angleAtTable = geometry.AngleRad(geometry.StrokeAtTableMm);
        if (double.IsNaN(_angleAtTable))
            throw new ArgumentException("The three lengths make no triangle where the blade lies on the table.", nameof(geometry));
    }

    /// <inheritdoc/>
    public override double Apply(double raw)
    {
        var turned = _geometry.AngleRad((raw * _scale) + _offsetMm) - _angleAtTable;
        var up = _geometry.RaisesByRetracting ? -turned : turned;
        return Math.Abs(up) > SteepestRad
            ? double.NaN
            : (_geometry.PivotToCutMm * Math.Tan(up)) - (_geometry.PivotAboveTableMm * ((1 / Math.Cos(up)) - 1));
    }
}

/// <summary>Measures of a pivoting head and its cylinder, mm.</summary>
/// <param name="PivotToBaseMm">From the head's pivot to the cylinder's fixed pin.</param>
/// <param name="PivotToRodMm">From the head's pivot to the pin of the piston rod.</param>
/// <param name="ClosedMm">From pin to pin where the stroke is 0.</param>
/// <param name="StrokeAtTableMm">The stroke where the cutting edge lies on the table.</param>
/// <param name="PivotToCutMm">Along the table from the pivot to the middle of the vise, where the height counts.</param>
/// <param name="PivotAboveTableMm">Height of the pivot above the table.</param>
/// <param name="RaisesByRetracting">Whether the head comes up where the cylinder gets shorter.</param>
public sealed record CylinderGeometry(
    double PivotToBaseMm,
    double PivotToRodMm,
    double ClosedMm,
    double StrokeAtTableMm,
    double PivotToCutMm,
    double PivotAboveTableMm = 0,
    bool RaisesByRetracting = false)
{
    /// <summary>The angle at the pivot between its two pins, rad, by the law of cosines; NaN where the cylinder cannot reach.</summary>
    /// <param name="strokeMm">The stroke.</param>
    public double AngleRad(double strokeMm)
    {
        var length = ClosedMm + strokeMm;
        return Math.Acos(((PivotToBaseMm * PivotToBaseMm) + (PivotToRodMm * PivotToRodMm) - (length * length)) / (2 * PivotToBaseMm * PivotToRodMm));
    }
}
