using System.Globalization;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>
/// Values in the units that a person chose, with as many decimals as a unit always has: a value that moves must not jump about.
/// </summary>
internal sealed class WatchUnits(DisplayUnits units)
{
    /// <summary>The unit in which a signal is shown; empty where it has none.</summary>
    public string UnitOf(SignalInfo info) => UnitOf(info.Unit);

    /// <summary>A value without its unit; "-" where it is not known.</summary>
    /// <param name="value">The value in the metric unit.</param>
    /// <param name="unit">The metric unit; empty for a whole number.</param>
    /// <param name="cells">How long it may be; a longer one is told with a power of ten.</param>
    public string Number(double value, string unit, int cells = 12)
    {
        if (!double.IsFinite(value))
            return "-";
        var inch = units == DisplayUnits.Inch ? InchUnit.Of(unit) : null;
        var shown = inch?.Convert(value) ?? value;
        var decimals = (inch?.Inch ?? unit) switch
        {
            "" or "ft/min" => 0,
            "m/min" => 1,
            "in" => 3,
            _ => 2,
        };

        // A value that no such signal can have must not take the place of the others.
        var text = Math.Abs(shown) < 1e12 ? Math.Round(shown, decimals).ToString($"F{decimals}", CultureInfo.InvariantCulture) : "";
        return text.Length > 0 && text.Length <= cells ? text : shown.ToString("0.0e+0", CultureInfo.InvariantCulture);
    }

    /// <summary>A value with its unit.</summary>
    public string Text(double value, string unit) => double.IsFinite(value) && unit.Length > 0 ? $"{Number(value, unit, 12 - 1 - UnitOf(unit).Length)} {UnitOf(unit)}" : Number(value, unit);

    /// <summary>A length of time, short: <c>0.4 s</c>, <c>12 s</c>, <c>5 min</c>, <c>3 h</c>.</summary>
    public static string Age(TimeSpan age) => age switch
    {
        { TotalSeconds: < 9.95 } => string.Create(CultureInfo.InvariantCulture, $"{Math.Max(0, age.TotalSeconds):0.0} s"),
        { TotalSeconds: < 99.5 } => string.Create(CultureInfo.InvariantCulture, $"{age.TotalSeconds:0} s"),
        { TotalMinutes: < 99.5 } => string.Create(CultureInfo.InvariantCulture, $"{age.TotalMinutes:0} min"),
        _ => string.Create(CultureInfo.InvariantCulture, $"{Math.Min(999, age.TotalHours):0} h"),
    };

    private string UnitOf(string unit) => units == DisplayUnits.Inch ? InchUnit.Of(unit)?.Inch ?? unit : unit;
}
