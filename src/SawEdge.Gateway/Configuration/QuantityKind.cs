using System.Diagnostics.CodeAnalysis;
using System.Text.RegularExpressions;
using SawEdge.Core.Notation;

namespace SawEdge.Gateway.Configuration;

/// <summary>One unit of a <see cref="QuantityKind"/>.</summary>
/// <param name="Symbol">How it is written; capitals do not matter.</param>
/// <param name="Factor">What one of it is in the kind's base unit.</param>
/// <param name="RelativeTo">What the value is a share of, where it stands for no absolute amount; null otherwise.</param>
public sealed record QuantityUnit(string Symbol, double Factor, QuantityReference? RelativeTo = null);

/// <summary>What a value without an absolute unit is a share of.</summary>
public enum QuantityReference
{
    /// <summary>The rated power of the saw's blade motor.</summary>
    RatedPower,

    /// <summary>The rated current of the saw's blade motor.</summary>
    RatedCurrent,

    /// <summary>The frequency of the blade motor's current: the blade runs in proportion to it.</summary>
    MotorFrequency,

    /// <summary>The turns of the blade motor.</summary>
    MotorTurns,
}

/// <summary>
/// A kind of quantity and the units in which people write it, for example <c>4 in</c>, <c>1-1/4 in</c>, <c>80 m/min</c>, <c>250 ms</c>. The
/// notation is that of <see cref="Quantity"/>, the same as in job lists; capitals do not matter. The factors are exact by definition (NIST SP 811, appendix B)
/// unless stated otherwise.
/// </summary>
public sealed partial class QuantityKind
{
    /// <summary>Regular expression of a number without a sign: decimal, fraction or both.</summary>
    public const string UnsignedNumberPattern = @"(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:/[0-9]+|[- ][0-9]+/[0-9]+)?";

    private readonly Dictionary<string, QuantityUnit> _bySymbol;

    private QuantityKind(string name, string example, string other, IReadOnlyList<QuantityUnit> units, params (string Alias, string Symbol)[] aliases)
    {
        Name = name;
        Examples = [example, other];
        Units = units;
        _bySymbol = units.ToDictionary(unit => unit.Symbol, StringComparer.OrdinalIgnoreCase);
        foreach (var (alias, symbol) in aliases)
            _bySymbol.Add(alias, _bySymbol[symbol]);
        UnitPattern = $"(?:{string.Join('|', _bySymbol.Keys.OrderByDescending(symbol => symbol.Length).Select(AnyCapitals))})";
        Pattern = $"^ *[+-]?{UnsignedNumberPattern} *{UnitPattern}\\.* *$";
    }

    /// <summary>Length, mm.</summary>
    public static QuantityKind Length { get; } = new(
        "length",
        "100 mm",
        "4 in",
        [new("mm", 1), new("cm", 10), new("m", 1000), new("um", 0.001), new("in", 25.4), new("ft", 304.8)],
        ("\"", "in"), ("inch", "in"), ("inches", "in"), ("'", "ft"), ("foot", "ft"), ("feet", "ft"), ("µm", "um"), ("millimetre", "mm"), ("millimetres", "mm"), ("millimeter", "mm"), ("millimeters", "mm"));

    /// <summary>Area, cm2.</summary>
    public static QuantityKind Area { get; } = new(
        "area",
        "400 cm2",
        "62 in2",
        [new("cm2", 1), new("mm2", 0.01), new("m2", 10_000), new("in2", 6.4516), new("ft2", 929.0304)]);

    /// <summary>Blade speed, m/min.</summary>
    public static QuantityKind Speed { get; } = new("speed", "80 m/min", "260 ft/min", SpeedUnits(1));

    /// <summary>Blade speed, m/min: a speed, or what the blade motor is fed with or turns at.</summary>
    public static QuantityKind BladeSpeed { get; } = new(
        "blade speed",
        "80 m/min",
        "48 Hz",
        [.. SpeedUnits(1), new("Hz", 1, QuantityReference.MotorFrequency), new("rpm", 1, QuantityReference.MotorTurns)]);

    /// <summary>Frequency, Hz.</summary>
    public static QuantityKind Frequency { get; } = new("frequency", "50 Hz", "60 Hz", [new("Hz", 1)]);

    /// <summary>Turns in a minute, rpm.</summary>
    public static QuantityKind Turns { get; } = new("number of turns", "1450 rpm", "24 1/s", [new("rpm", 1), new("1/min", 1), new("1/s", 60)]);

    /// <summary>Rate of a slow movement, as of the saw head, mm/min.</summary>
    public static QuantityKind Rate { get; } = new("rate of movement", "60 mm/min", "2.5 in/min", SpeedUnits(1000));

    /// <summary>Cutting rate, cm2/min.</summary>
    public static QuantityKind CuttingRate { get; } = new("cutting rate", "50 cm2/min", "8 in2/min", [new("cm2/min", 1), new("mm2/min", 0.01), new("in2/min", 6.4516)]);

    /// <summary>Time, s.</summary>
    public static QuantityKind Time { get; } = new("time", "250 ms", "5 s", [new("s", 1), new("ms", 0.001), new("min", 60), new("h", 3600), new("d", 86_400)], ("sec", "s"), ("day", "d"), ("days", "d"));

    /// <summary>Power, kW.</summary>
    public static QuantityKind Power { get; } = new("power", "5.5 kW", "7.5 hp", PowerUnits);

    /// <summary>Motor load, kW: a power, or a share of the motor's rated power or current.</summary>
    public static QuantityKind MotorLoad { get; } = new(
        "motor load",
        "5.5 kW",
        "80 percent of rated",
        [.. PowerUnits, new("percent of rated", 0.01, QuantityReference.RatedPower), new("% of rated", 0.01, QuantityReference.RatedPower), new("A", 1, QuantityReference.RatedCurrent)]);

    /// <summary>Electric current, A.</summary>
    public static QuantityKind Current { get; } = new("current", "11.5 A", "800 mA", [new("A", 1), new("mA", 0.001)]);

    /// <summary>Angle, degrees.</summary>
    public static QuantityKind Angle { get; } = new("angle", "45 deg", "0.5 rad", [new("deg", 1), new("°", 1), new("rad", 180 / Math.PI)]);

    /// <summary>Share of a whole, 0..1.</summary>
    public static QuantityKind Share { get; } = new("share", "80 %", "92.5 %", [new("%", 0.01), new("percent", 0.01)]);

    /// <summary>Amount of data, bytes.</summary>
    public static QuantityKind Data { get; } = new("amount of data", "64 KiB", "200 kB", [new("B", 1), new("kB", 1000), new("KiB", 1024), new("MB", 1_000_000), new("MiB", 1024 * 1024)]);

    /// <summary>Space on a disk, MB.</summary>
    public static QuantityKind DiskSpace { get; } = new("disk space", "500 MB", "2 GB", [new("MB", 1), new("GB", 1000), new("TB", 1_000_000), new("MiB", 1.048576), new("GiB", 1073.741824)]);

    /// <summary>Energy, kJ.</summary>
    public static QuantityKind Energy { get; } = new("energy", "250 kJ", "70 Wh", [new("kJ", 1), new("J", 0.001), new("MJ", 1000), new("Wh", 3.6), new("kWh", 3600)]);

    /// <summary>Energy per volume removed, J/mm3.</summary>
    public static QuantityKind SpecificEnergy { get; } = new("specific energy", "2.5 J/mm3", "2.5 kJ/cm3", [new("J/mm3", 1), new("kJ/cm3", 1)]);

    /// <summary>Name of the kind in messages.</summary>
    public string Name { get; }

    /// <summary>Two values as a person would write them.</summary>
    public IReadOnlyList<string> Examples { get; }

    /// <summary>The units; the first is the base unit (of a share: percent, for which there is none).</summary>
    public IReadOnlyList<QuantityUnit> Units { get; }

    /// <summary>Regular expression that a value's text matches.</summary>
    public string Pattern { get; }

    /// <summary>Regular expression of the unit symbols alone.</summary>
    public string UnitPattern { get; }

    // hp: the mechanical horsepower, 550 ft lbf/s; PS: the metric one, 75 kgf m/s (NIST SP 811, appendix B.8).
    private static IReadOnlyList<QuantityUnit> PowerUnits =>
        [new("kW", 1), new("W", 0.001), new("hp", 0.745_699_871_582_270_22), new("PS", 0.735_498_75)];

    /// <summary>The unit of that symbol, whatever its capitals, or null.</summary>
    public QuantityUnit? Unit(string symbol) => _bySymbol.GetValueOrDefault(symbol);

    /// <summary>Reads a value.</summary>
    /// <param name="text">What a person wrote.</param>
    /// <param name="value">The value in the base unit; for a relative unit, in units of what it is relative to.</param>
    /// <param name="unit">The unit it was written in.</param>
    /// <param name="problem">What is wrong and what would be right, or null.</param>
    /// <returns>Whether it could be read.</returns>
    public bool TryParse(string text, out double value, [NotNullWhen(true)] out QuantityUnit? unit, [NotNullWhen(false)] out string? problem)
    {
        value = double.NaN;
        unit = null;
        problem = null;
        if (Quantity.Parse(text) is not { } quantity)
        {
            problem = ZeroBelow().IsMatch(text) ? $"{Shown(text)} divides by zero; write for example {Examples[0]} or {Examples[1]}" : NotAQuantity(text);
        }
        else if (quantity.Unit.Length == 0)
        {
            problem = $"{Shown(text)} has no unit; write for example {Examples[0]} or {Examples[1]}";
        }
        else if (Unit(quantity.Unit) is not { } known || !double.IsFinite(quantity.Value * known.Factor))
        {
            problem = CommaNumber().IsMatch(text)
                ? $"{Shown(text)}: write decimals with a point and nothing between thousands, for example {Examples[0]}"
                : NotAQuantity(text);
        }
        else
        {
            unit = known;
            value = quantity.Value * known.Factor;
            return true;
        }

        return false;
    }

    /// <inheritdoc cref="TryParse(string, out double, out QuantityUnit?, out string?)"/>
    public bool TryParse(string text, out double value, [NotNullWhen(false)] out string? problem) => TryParse(text, out value, out _, out problem);

    /// <summary>Reads a value that the program itself states.</summary>
    /// <exception cref="FormatException">It cannot be read; the message says why.</exception>
    public double Parse(string text) => TryParse(text, out var value, out var problem) ? value : throw new FormatException(problem);

    private static IReadOnlyList<QuantityUnit> SpeedUnits(double perMetrePerMinute)
    {
        (string Symbol, double MetresPerMinute)[] units =
        [
            ("m/min", 1), ("mm/min", 0.001), ("cm/min", 0.01), ("m/s", 60), ("mm/s", 0.06),
            ("ft/min", 0.3048), ("fpm", 0.3048), ("sfm", 0.3048), ("ft/s", 18.288), ("in/min", 0.0254), ("ipm", 0.0254), ("in/s", 1.524),
        ];
        // The base unit comes first.
        return [.. units.Select(unit => new QuantityUnit(unit.Symbol, unit.MetresPerMinute * perMetrePerMinute)).OrderBy(unit => unit.Factor == 1 ? 0 : 1)];
    }

    private static string AnyCapitals(string symbol) =>
        string.Concat(symbol.Select(c => char.IsAsciiLetter(c) ? $"[{char.ToLowerInvariant(c)}{char.ToUpperInvariant(c)}]" : c.ToString()));

    private string NotAQuantity(string text) => $"{Shown(text)} is no {Name}; write for example {Examples[0]} or {Examples[1]}";

    private static string Shown(string text) => Reading.Words.Quoted(text.Trim());

    [GeneratedRegex("/0+(?![0-9])")]
    private static partial Regex ZeroBelow();

    [GeneratedRegex(@"^\s*[+-]?[0-9.]*[0-9],[0-9]")]
    private static partial Regex CommaNumber();
}
