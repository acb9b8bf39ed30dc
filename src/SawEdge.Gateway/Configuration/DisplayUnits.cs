using System.Globalization;

namespace SawEdge.Gateway.Configuration;

/// <summary>Units in which values are shown to people. What programs read is always metric.</summary>
public enum DisplayUnits
{
    /// <summary>mm, cm2, m/min, kW.</summary>
    Metric,

    /// <summary>in, in2, ft/min, hp.</summary>
    Inch,
}

/// <summary>Numbers with their units as people read them.</summary>
internal static class DisplayText
{
    /// <summary>A value brought to the units of a reader.</summary>
    /// <param name="units">The units to print in.</param>
    /// <param name="value">The value in a metric unit.</param>
    /// <param name="unit">The metric unit.</param>
    public static (string Number, string Unit) Of(DisplayUnits units, double value, string unit)
    {
        if (unit == "s")
            return Duration(value);
        if (unit == "share")
            return (Number(value * 100), "%");
        var inch = units == DisplayUnits.Inch ? InchUnit.Of(unit) : null;
        return inch is null ? (Number(value), unit) : (Number(inch.Convert(value)), inch.Inch);
    }

    /// <summary>A value and its unit in one text.</summary>
    public static string Text(DisplayUnits units, double value, string unit)
    {
        var (number, shown) = Of(units, value, unit);
        return shown.Length == 0 ? number : $"{number} {shown}";
    }

    /// <summary>Four significant digits, more only where the whole part has them.</summary>
    private static string Number(double value)
    {
        var decimals = value == 0 ? 0 : Math.Clamp(3 - (int)Math.Floor(Math.Log10(Math.Abs(value))), 0, 8);
        return Math.Round(value, decimals).ToString("0.########", CultureInfo.InvariantCulture);
    }

    private static (string Number, string Unit) Duration(double seconds)
    {
        if (seconds < 120)
            return (Number(seconds), "s");
        var whole = TimeSpan.FromSeconds(Math.Round(seconds));
        return seconds < 7200
            ? (string.Create(CultureInfo.InvariantCulture, $"{(int)whole.TotalMinutes} min {whole.Seconds:00}"), "s")
            : (string.Create(CultureInfo.InvariantCulture, $"{(long)whole.TotalHours} h {whole.Minutes:00}"), "min");
    }
}
