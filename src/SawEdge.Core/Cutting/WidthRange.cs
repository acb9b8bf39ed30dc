using SawEdge.Core.Sections;

namespace SawEdge.Core.Cutting;

/// <summary>Where a section is widest and narrowest for the blade.</summary>
/// <param name="WidestAtMm">Depth of the greatest contact width, mm.</param>
/// <param name="WidestMm">Greatest contact width, mm.</param>
/// <param name="NarrowestAtMm">Depth of the least contact width, mm.</param>
/// <param name="NarrowestMm">Least contact width, mm.</param>
public readonly record struct WidthRange(double WidestAtMm, double WidestMm, double NarrowestAtMm, double NarrowestMm)
{
    private const int Places = 48;
    private const int Narrowings = 60;
    private static readonly double Golden = (Math.Sqrt(5) - 1) / 2;

    /// <summary>Looks between the section's breaks, where the width runs smoothly, and closes in on each end by golden section.</summary>
    /// <param name="section">The section.</param>
    public static WidthRange Of(Section section)
    {
        var range = new WidthRange(0, double.NegativeInfinity, 0, double.PositiveInfinity);
        var from = 0.0;
        for (var i = 0; i <= section.BreaksMm.Count; i++)
        {
            var to = i < section.BreaksMm.Count ? section.BreaksMm[i] : section.HeightMm;
            if (to > from)
                range = range.And(section, from, to);
            from = to;
        }

        return range;
    }

    private WidthRange And(Section section, double from, double to)
    {
        // A break belongs to the stretch below it, so the ends are looked at just inside.
        var inset = Math.Min(1e-9 * section.HeightMm, 0.25 * (to - from));
        var (first, last) = (from + inset, to - inset);
        var step = (last - first) / Places;
        var (widest, narrowest) = (first, first);
        for (var i = 0; i <= Places; i++)
        {
            var depth = Math.Min(first + (i * step), last);
            widest = section.WidthAt(depth) > section.WidthAt(widest) ? depth : widest;
            narrowest = section.WidthAt(depth) < section.WidthAt(narrowest) ? depth : narrowest;
        }

        widest = CloseIn(section, 1, widest, Math.Max(first, widest - step), Math.Min(last, widest + step));
        narrowest = CloseIn(section, -1, narrowest, Math.Max(first, narrowest - step), Math.Min(last, narrowest + step));
        var range = this;
        if (section.WidthAt(widest) > WidestMm)
            range = range with { WidestAtMm = widest, WidestMm = section.WidthAt(widest) };
        if (section.WidthAt(narrowest) < NarrowestMm)
            range = range with { NarrowestAtMm = narrowest, NarrowestMm = section.WidthAt(narrowest) };
        return range;
    }

    private static double CloseIn(Section section, int sign, double best, double low, double high)
    {
        for (var i = 0; i < Narrowings; i++)
        {
            var (a, b) = (high - (Golden * (high - low)), low + (Golden * (high - low)));
            if (sign * section.WidthAt(a) < sign * section.WidthAt(b))
                low = a;
            else
                high = b;
        }

        var found = (low + high) / 2;
        return sign * section.WidthAt(found) > sign * section.WidthAt(best) ? found : best;
    }
}
