using SawEdge.Core.Sections;

namespace SawEdge.Core.Cycles;

/// <summary>What of a job's section decides where the blade meets it and leaves it, and how soon the load can tell.</summary>
/// <param name="HeightMm">Height in the vise, mm; NaN where the section is not known.</param>
/// <param name="TopSlackMm">Depth at which the width first reaches a third of its mean, mm: before it the load may show nothing.</param>
/// <param name="BottomSlackMm">Height above the table at which the width is last a third of its mean, mm.</param>
/// <param name="LeastShare">The least width between these two, as a share of the mean; a third at most.</param>
public readonly record struct StockShape(double HeightMm, double TopSlackMm, double BottomSlackMm, double LeastShare)
{
    /// <summary>Depths at which the width is looked at.</summary>
    private const int Steps = 400;

    private const double Third = 1.0 / 3;

    /// <summary>A stock of which nothing is known.</summary>
    public static StockShape Unknown { get; } = OfHeight(double.NaN);

    /// <summary>A stock as wide at every depth.</summary>
    /// <param name="heightMm">Its height in the vise, mm, or NaN.</param>
    public static StockShape OfHeight(double heightMm) => new(heightMm, 0, 0, Third);

    /// <summary>The shape of a section.</summary>
    public static StockShape Of(Section section)
    {
        var (height, step) = (section.HeightMm, section.HeightMm / Steps);
        double Share(int i) => section.WidthAt((i + 0.5) * step) / section.MeanWidthMm;
        var first = 0;
        while (first < Steps - 1 && Share(first) < Third)
            first++;
        var last = Steps - 1;
        while (last > first && Share(last) < Third)
            last--;
        var least = Third;
        for (var i = first; i <= last; i++)
            least = Math.Min(least, Share(i));
        return new StockShape(height, first * step, height - ((last + 1) * step), least);
    }
}
