namespace SawEdge.Core.Sections;

/// <summary>One stretch of blade in contact with the stock, across the saw, measured from the left edge of the section.</summary>
/// <param name="FromMm">Where it begins, mm.</param>
/// <param name="ToMm">Where it ends, mm; never less than <paramref name="FromMm"/>.</param>
public readonly record struct ContactSegment(double FromMm, double ToMm)
{
    /// <summary>Length of the stretch, mm.</summary>
    public double LengthMm => ToMm - FromMm;
}

/// <summary>
/// The stock's cross-section as it lies in the vise. Depth is measured in mm downward from the top of the stock:
/// 0 is first contact, <see cref="HeightMm"/> is breakthrough. Immutable; every question is answered without an allocation.
/// </summary>
public abstract class Section
{
    /// <summary>Height in the vise, mm.</summary>
    public abstract double HeightMm { get; }

    /// <summary>Overall width across the saw, mm.</summary>
    public abstract double OverallWidthMm { get; }

    /// <summary>Area of cut, cm2.</summary>
    public abstract double AreaCm2 { get; }

    /// <summary>Area divided by height, mm.</summary>
    public double MeanWidthMm => AreaCm2 * 100 / HeightMm;

    /// <summary>
    /// The depths strictly between 0 and the height at which the contact width jumps or bends sharply, rising, mm;
    /// an integration that stops at each of them never steps across a jump.
    /// </summary>
    public abstract IReadOnlyList<double> BreaksMm { get; }

    /// <summary>The greatest number of separate contact segments at any depth: the room <see cref="SegmentsAt"/> needs.</summary>
    public abstract int MaximumSegments { get; }

    /// <summary>The family under which cuts are compared, for example <c>round</c> or <c>tube</c>.</summary>
    public abstract string Family { get; }

    /// <summary>How many pieces one cut yields: the bars of a bundle, otherwise 1.</summary>
    public virtual int PiecesPerCut => 1;

    /// <summary>Angle from the square cut, degrees; 0 for a square cut.</summary>
    public virtual double MitreDegrees => 0;

    /// <summary>The section in the short notation of the job list, for example <c>round 100 mm</c>.</summary>
    public abstract string Notation { get; }

    /// <summary>Width in contact with the blade at a depth, mm: the sum over the segments; 0 outside the stock.</summary>
    public abstract double WidthAt(double depthMm);

    /// <summary>The contact segments at a depth, from left to right.</summary>
    /// <param name="depthMm">Depth, mm.</param>
    /// <param name="segments">Room for at least <see cref="MaximumSegments"/>.</param>
    /// <returns>How many were written; 0 outside the stock.</returns>
    public abstract int SegmentsAt(double depthMm, Span<ContactSegment> segments);

    /// <summary>Area between two depths, cm2; depths are held to 0..height, and swapped depths give a negative area.</summary>
    public abstract double AreaBetweenCm2(double fromMm, double toMm);
}
