namespace SawEdge.Core;

/// <summary>
/// Records hold numbers to a stated precision: what was measured ends long before a double does, and a rounded number
/// is the same on every machine.
/// </summary>
internal static class CutFigureRounding
{
    /// <summary>Significant digits of a computed figure.</summary>
    private const int Digits = 6;

    /// <summary>To six significant digits; null for what is not finite.</summary>
    public static double? Figure(double value)
    {
        if (!double.IsFinite(value))
            return null;

        // Nothing that is measured is so small, and its power of ten could not be written.
        if (Math.Abs(value) < 1e-300)
            return 0;
        var decimals = Digits - 1 - (int)Math.Floor(Math.Log10(Math.Abs(value)));
        return decimals is >= 0 and <= 15
            ? Math.Round(value, decimals)
            : Math.Round(value / Math.Pow(10, -decimals)) * Math.Pow(10, -decimals);
    }

    /// <summary>Seconds to the millisecond.</summary>
    public static double? Seconds(double? value) => value is { } seconds && double.IsFinite(seconds) ? Math.Round(seconds, 3) : null;

    /// <summary>A moment to the millisecond, halves up.</summary>
    public static DateTimeOffset Moment(DateTimeOffset value)
    {
        var ticks = value.UtcTicks + (TimeSpan.TicksPerMillisecond / 2);
        return new DateTimeOffset(ticks - (ticks % TimeSpan.TicksPerMillisecond), TimeSpan.Zero);
    }
}
