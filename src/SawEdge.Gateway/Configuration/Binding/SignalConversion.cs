using System.Globalization;
using System.Text.RegularExpressions;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>What a controller's raw value means: <c>raw * scale</c> in a unit, plus an offset, believed within limits.</summary>
/// <param name="Scale">Factor to the stated unit.</param>
/// <param name="Unit">The stated unit.</param>
/// <param name="Offset">Added after the conversion.</param>
/// <param name="Minimum">Least value that is believed, or null.</param>
/// <param name="Maximum">Greatest value that is believed, or null.</param>
internal sealed record SignalConversion(
    Setting<double> Scale,
    Setting<Amount?> Unit,
    Setting<Amount?> Offset,
    Setting<Amount?> Minimum,
    Setting<Amount?> Maximum)
{
    /// <summary>Declares the members of a measured number.</summary>
    public static SignalConversion Bind(ConfigObject o, SignalInfo info)
    {
        var kind = KindOf(info);
        return new SignalConversion(
            o.Default("scale", Factor, "1", "Factor from the raw value to the stated unit."),
            o.Optional("unit", new UnitType(kind), $"The controller's unit, with a factor where one count is not one unit, for example \"0.1 {info.Unit}\". Left out: {info.Unit}."),
            o.Optional("offset", new AmountType(kind), "Added after scale and unit."),
            o.Optional("minimum", new AmountType(kind), "Least value that is believed; below it the signal is marked out of range."),
            o.Optional("maximum", new AmountType(kind), "Greatest value that is believed; above it the signal is marked out of range."));
    }

    /// <summary>A factor: any number but 0.</summary>
    public static ConfigType<double> Factor { get; } = new FactorType();

    /// <summary>Works units and rated values in: value = raw * scale + offset in the signal's own unit.</summary>
    /// <param name="o">Where mistakes are reported.</param>
    /// <param name="motor">The saw's rated values.</param>
    public (ValueConversion Conversion, double? Minimum, double? Maximum) Resolve(ConfigObject o, MotorRating motor)
    {
        var unit = Resolve(o, Unit, motor) ?? 1;
        var minimum = Resolve(o, Minimum, motor);
        var maximum = Resolve(o, Maximum, motor);
        if (minimum >= maximum)
            o.Error(Minimum, "must be less than maximum");
        return (ValueConversion.Linear(Scale * unit, Resolve(o, Offset, motor) ?? 0), minimum, maximum);
    }

    private static double? Resolve(ConfigObject o, Setting<Amount?> amount, MotorRating motor) =>
        amount.Value is { } stated ? motor.Resolve(o, amount, stated) : null;

    private static QuantityKind KindOf(SignalInfo info) => info.Unit switch
    {
        "mm" => QuantityKind.Length,
        "kW" => QuantityKind.MotorLoad,
        "m/min" => QuantityKind.Speed,
        _ => throw new InvalidOperationException($"No units are known for {info.Name} ({info.Unit})."),
    };

    private sealed class FactorType : ConfigType<double>
    {
        private readonly NumberType _number = new(whole: false, double.NegativeInfinity, double.PositiveInfinity, "0.1");

        public override bool TryRead(SourceNode node, string path, ReadContext context, out double value)
        {
            if (!_number.TryRead(node, path, context, out value))
                return false;
            if (value != 0)
                return true;
            context.Findings.Error(path, "0 would make every value 0; write the factor from the raw value to the unit, for example 0.1");
            return false;
        }

        public override TypeDescription Describe() => _number.Describe();
    }
}

/// <summary>An amount in a kind's base unit, or relative to a rated value.</summary>
internal sealed record Amount(double Value, QuantityReference? RelativeTo);

/// <summary>The rated values that relative amounts need.</summary>
internal sealed record MotorRating(Setting<double?> PowerKw, Setting<double?> CurrentA)
{
    /// <summary>The amount in the base unit, or null where a rated value is missing, which is reported.</summary>
    public double? Resolve<T>(ConfigObject o, Setting<T> at, Amount amount)
    {
        if (amount.RelativeTo is null)
            return amount.Value;
        var wantsCurrent = amount.RelativeTo == QuantityReference.RatedCurrent;
        var stated = (Power: PowerKw.IsStated, Current: CurrentA.IsStated || !wantsCurrent);
        if (!stated.Power || !stated.Current)
        {
            var missing = stated.Power ? "machine.ratedCurrent" : stated.Current ? "machine.ratedPower" : "machine.ratedPower and machine.ratedCurrent";
            var example = stated.Power ? "\"11.5 A\"" : stated.Current ? "\"5.5 kW\"" : "\"5.5 kW\" and \"11.5 A\"";
            o.Error(at, $"{(wantsCurrent ? "amperes need" : "percent of rated needs")} {missing} of this saw, for example {example}");
            return null;
        }

        return amount.Value * PowerKw.Value / (wantsCurrent ? CurrentA.Value : 1);
    }
}

/// <summary>An amount with its unit.</summary>
internal sealed class AmountType(QuantityKind kind) : ConfigType<Amount>
{
    public override bool TryRead(SourceNode node, string path, ReadContext context, [System.Diagnostics.CodeAnalysis.MaybeNullWhen(false)] out Amount value)
    {
        var good = QuantityType<double>.TryQuantity(node, path, kind, context, out var number, out var unit);
        value = good ? new Amount(number, unit!.RelativeTo) : null;
        return good;
    }

    public override TypeDescription Describe() => new ScalarDescription { Kind = kind.Name, Forms = [SourceKind.Text], Pattern = kind.Pattern, Examples = kind.Examples };
}

/// <summary>A unit, with a factor where one count is not one unit: <c>in</c>, <c>0.1 mm</c>, <c>percent of rated</c>.</summary>
internal sealed partial class UnitType(QuantityKind kind) : ConfigType<Amount>
{
    private string Right => $"write {Words.Or([.. kind.Units.Select(unit => unit.Symbol)])}, or a step such as \"0.1 {kind.Units[0].Symbol}\"";

    public override bool TryRead(SourceNode node, string path, ReadContext context, [System.Diagnostics.CodeAnalysis.MaybeNullWhen(false)] out Amount value)
    {
        value = null;
        var problem = $"is {node.KindInWords}; {Right}";
        if (node.Kind is SourceKind.Text or SourceKind.Loose)
        {
            var text = node.Text.Trim();
            problem = $"{Words.Quoted(text)} is no unit of {kind.Name}; {Right}";
            if (kind.Unit(text) is { } unit)
                value = new Amount(unit.Factor, unit.RelativeTo);
            else if (StartsWithDigit().IsMatch(text) && kind.TryParse(text, out var step, out unit, out _) && step > 0)
                value = new Amount(step, unit.RelativeTo);
        }

        if (value is not null)
            return true;
        context.Findings.Error(path, problem);
        return false;
    }

    public override TypeDescription Describe() => new ScalarDescription
    {
        Kind = $"unit of {kind.Name}",
        Forms = [SourceKind.Text],
        Pattern = $"^ *(?:{QuantityKind.UnsignedNumberPattern} *)?{kind.UnitPattern} *$",
        Examples = [kind.Units[0].Symbol, $"0.1 {kind.Units[0].Symbol}"],
    };

    [GeneratedRegex("^[0-9.]")]
    private static partial Regex StartsWithDigit();
}
