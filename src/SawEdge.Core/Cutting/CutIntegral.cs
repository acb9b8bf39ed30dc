using SawEdge.Core.Sections;

namespace SawEdge.Core.Cutting;

/// <summary>
/// Time of a cut whose descent is the smaller of rate / width and a cap. Where the rate governs, the time is area / rate,
/// exactly; where the cap governs, it is depth / cap, exactly; what has to be found are the depths where one gives way to
/// the other, and those are found between the section's breaks to the last digits.
/// </summary>
internal static class CutIntegral
{
    private const int Cells = 24;

    /// <summary>Seconds from one depth to another.</summary>
    /// <param name="section">Section.</param>
    /// <param name="rateCm2Min">Cutting rate, cm2/min.</param>
    /// <param name="capMmMin">Greatest descent, mm/min; infinite where there is none.</param>
    /// <param name="fromMm">First depth, mm.</param>
    /// <param name="toMm">Last depth, mm.</param>
    public static double Seconds(Section section, double rateCm2Min, double capMmMin, double fromMm, double toMm)
    {
        var from = Math.Clamp(fromMm, 0, section.HeightMm);
        var to = Math.Clamp(toMm, from, section.HeightMm);
        if (double.IsPositiveInfinity(capMmMin))
            return section.AreaBetweenCm2(from, to) / rateCm2Min * 60;

        // Below this width the cap governs.
        var least = rateCm2Min * 100 / capMmMin;
        var minutes = 0.0;
        var start = from;
        var breaks = section.BreaksMm;
        for (var i = 0; i <= breaks.Count; i++)
        {
            var end = i < breaks.Count ? Math.Min(breaks[i], to) : to;
            if (end <= start)
                continue;
            minutes += Piece(section, rateCm2Min, capMmMin, least, start, end);
            start = end;
        }

        return minutes * 60;
    }

    /// <summary>Minutes of one stretch without a break inside.</summary>
    private static double Piece(Section section, double rate, double cap, double least, double from, double to)
    {
        // The ends are looked at just inside, since a break belongs to the band below it.
        var inset = Math.Min(1e-12 * section.HeightMm, 0.25 * (to - from));
        var minutes = 0.0;
        var stretchStart = from;
        Span<double> depths = stackalloc double[Cells + 1];
        Span<double> over = stackalloc double[Cells + 1];
        for (var i = 0; i <= Cells; i++)
        {
            // Places crowd toward the ends, where a curved edge runs away steeply.
            var share = 0.5 - (0.5 * Math.Cos(Math.PI * i / Cells));
            depths[i] = Math.Clamp(from + ((to - from) * share), from + inset, to - inset);
            over[i] = section.WidthAt(depths[i]) - least;
        }

        for (var i = 1; i <= Cells; i++)
        {
            if (over[i - 1] > 0 != over[i] > 0)
            {
                var crossing = Crossing(section, least, depths[i - 1], over[i - 1], depths[i], over[i]);
                minutes += Stretch(section, rate, cap, over[i - 1] > 0, stretchStart, crossing);
                stretchStart = crossing;
            }
            else if (i < Cells && Turns(over[i - 1], over[i], over[i + 1]))
            {
                // The width comes near the limit and turns back between two places: look whether it passes it there.
                var turn = Extreme(section, least, depths[i - 1], depths[i + 1], over[i] > 0 ? 1 : -1);
                var at = section.WidthAt(turn) - least;
                if (at > 0 == over[i] > 0)
                    continue;
                var enter = Crossing(section, least, depths[i - 1], over[i - 1], turn, at);
                var leave = Crossing(section, least, turn, at, depths[i + 1], over[i + 1]);
                minutes += Stretch(section, rate, cap, over[i] > 0, stretchStart, enter) + Stretch(section, rate, cap, at > 0, enter, leave);
                stretchStart = leave;
                i++;
            }
        }

        return minutes + Stretch(section, rate, cap, over[Cells] > 0, stretchStart, to);
    }

    private static double Stretch(Section section, double rate, double cap, bool rateGoverns, double from, double to) =>
        rateGoverns ? section.AreaBetweenCm2(from, to) / rate : (to - from) / cap;

    private static bool Turns(double before, double here, double after) =>
        before > 0 == here > 0 && here > 0 == after > 0 && Math.Abs(here) <= Math.Abs(before) && Math.Abs(here) <= Math.Abs(after);

    /// <summary>The depth of least distance to the limit, by golden section.</summary>
    private static double Extreme(Section section, double least, double low, double high, int sign)
    {
        const double Golden = 0.61803398874989485;
        var (a, b) = (high - (Golden * (high - low)), low + (Golden * (high - low)));
        var (fa, fb) = (sign * (section.WidthAt(a) - least), sign * (section.WidthAt(b) - least));
        for (var i = 0; i < 40; i++)
        {
            if (fa < fb)
            {
                (high, b, fb) = (b, a, fa);
                a = high - (Golden * (high - low));
                fa = sign * (section.WidthAt(a) - least);
            }
            else
            {
                (low, a, fa) = (a, b, fb);
                b = low + (Golden * (high - low));
                fb = sign * (section.WidthAt(b) - least);
            }
        }

        return 0.5 * (low + high);
    }

    /// <summary>Where the width passes the limit, by the Illinois form of false position, held by bisection.</summary>
    private static double Crossing(Section section, double least, double low, double overLow, double high, double overHigh)
    {
        var lastSide = 0;
        for (var i = 0; i < 100 && high - low > 1e-12 * section.HeightMm; i++)
        {
            var place = i % 4 == 3 ? 0.5 * (low + high) : low + ((high - low) * overLow / (overLow - overHigh));
            var over = section.WidthAt(place) - least;
            if (over > 0 == overLow > 0)
            {
                (low, overLow) = (place, over);
                overHigh *= lastSide == 1 ? 0.5 : 1;
                lastSide = 1;
            }
            else
            {
                (high, overHigh) = (place, over);
                overLow *= lastSide == -1 ? 0.5 : 1;
                lastSide = -1;
            }
        }

        return 0.5 * (low + high);
    }
}
