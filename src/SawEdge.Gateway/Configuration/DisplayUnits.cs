using System.Globalization;
using SawEdge.Core.Notation;

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
    private const double Cm2PerIn2 = Lengths.MmPerInch * Lengths.MmPerInch / 100;

    private static readonly double Cm2PerFt2 = QuantityKind.Area.Unit("ft2")!.Factor;

    private static readonly double KwPerHp = QuantityKind.Power.Unit("hp")!.Factor;

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
        var (number, shown) = units == DisplayUnits.Metric ? (value, unit) : unit switch
        {
            "mm" => (value / Lengths.MmPerInch, "in"),
            "mm/min" => (value / Lengths.MmPerInch, "in/min"),
            "cm2" => (value / Cm2PerIn2, "in2"),
            "m2" => (value * 10_000 / Cm2PerFt2, "ft2"),
            "cm2/min" => (value / Cm2PerIn2, "in2/min"),
            "cm3/min" => (value * 1000 / Math.Pow(Lengths.MmPerInch, 3), "in3/min"),
            "m/min" => (value * 1000 / (12 * Lengths.MmPerInch), "ft/min"),
            "kW" => (value / KwPerHp, "hp"),
            _ => (value, unit),
        };
        return (Number(number), shown);
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
