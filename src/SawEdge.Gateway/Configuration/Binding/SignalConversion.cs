using System.Globalization;
using System.Text.RegularExpressions;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>
/// What a controller's raw value means: <c>raw * scale</c> in a unit, plus an offset, or by points that were measured, or by the geometry of a
/// pivoting head; believed within limits.
/// </summary>
/// <param name="Scale">Factor to the stated unit.</param>
/// <param name="Unit">The stated unit.</param>
/// <param name="Offset">Added after the conversion.</param>
/// <param name="Points">Raw values and what they stand for.</param>
/// <param name="Cylinder">Geometry of a pivoting head whose cylinder's stroke is read.</param>
/// <param name="Minimum">Least value that is believed, or null.</param>
/// <param name="Maximum">Greatest value that is believed, or null.</param>
internal sealed record SignalConversion(
    Setting<double> Scale,
    Setting<Amount?> Unit,
    Setting<Amount?> Offset,
    Setting<IReadOnlyList<Setting<MeasuredPoint>>?> Points,
    Setting<CylinderGeometry?> Cylinder,
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
            o.Optional("points", MeasuredPoint.List(kind), "In place of scale, unit and offset: raw values and what they stand for, measured on the machine; straight lines between them. Raw values rise."),
            info.Signal == Signal.HeadPosition ? o.Optional("cylinder", CylinderBinding.Type, "Geometry of a pivoting head: what is read is the stroke of the cylinder that holds it.") : default,
            o.Optional("minimum", new AmountType(kind), "Least value that is believed; below it the signal is marked out of range."),
            o.Optional("maximum", new AmountType(kind), "Greatest value that is believed; above it the signal is marked out of range."));
    }

    /// <summary>A factor: any number but 0.</summary>
    public static ConfigType<double> Factor { get; } = new FactorType();

    /// <summary>Works units and rated values in.</summary>
    /// <param name="o">Where mistakes are reported.</param>
    /// <param name="drive">What is known of the saw's drive.</param>
    public (ValueConversion Conversion, double? Minimum, double? Maximum) Resolve(ConfigObject o, DriveRating drive)
    {
        var minimum = Resolve(o, Minimum, drive);
        var maximum = Resolve(o, Maximum, drive);
        if (minimum >= maximum)
            o.Error(Minimum, "must be less than maximum");
        if (!Points.IsStated)
            return (Cylinder.IsStated ? OfCylinder(o, drive) : OfUnit(o, drive), minimum, maximum);
        return OfPoints(o, drive) is { } table ? (table, minimum ?? table.Least, maximum ?? table.Greatest) : (ValueConversion.Identity, minimum, maximum);
    }

    private ValueConversion OfUnit(ConfigObject o, DriveRating drive)
    {
        var unit = Unit.Value ?? new Amount(1, null);
        if (drive.Factor(o, Unit, unit.RelativeTo) is not { } factor)
            return ValueConversion.Identity;
        if (unit.RelativeTo != QuantityReference.RatedCurrent)
            return ValueConversion.Linear(Scale * unit.Value * factor, Resolve(o, Offset, drive) ?? 0);
        var isCurrent = Offset.Value?.RelativeTo == QuantityReference.RatedCurrent;
        return drive.FromAmperes(Scale * unit.Value, isCurrent ? Offset.Value!.Value : 0, isCurrent ? 0 : Resolve(o, Offset, drive) ?? 0);
    }

    private TableConversion? OfPoints(ConfigObject o, DriveRating drive)
    {
        const string TooMuch = "points say all there is to say; keep points or this";
        if (Scale.IsStated)
            o.Error(Scale, TooMuch);
        if (Unit.IsStated)
            o.Error(Unit, TooMuch);
        if (Offset.IsStated)
            o.Error(Offset, TooMuch);
        if (Cylinder.IsStated)
            o.Error(Cylinder, TooMuch);

        var stated = Points.Value ?? [];
        if (!Points.IsGood || stated.Any(point => !point.IsGood))
            return null;
        List<(double, double)> points = [.. stated.Select(point => (point.Value!.Raw, drive.Resolve(o, point, point.Value.Is) ?? double.NaN))];
        if (points.Any(point => double.IsNaN(point.Item2)))
            return null;
        switch (TableConversion.FindFault(points))
        {
            case null:
                return new TableConversion(points);
            case 0 or 1 when points.Count < 2:
                o.Error(Points, "at least two points are needed; write [ { \"raw\": 512, \"is\": ... }, { \"raw\": 3800, \"is\": ... } ]");
                return null;
            case var fault:
                o.Error(stated[fault.Value], "does not go on from the point before: raw values must rise, and what they stand for must rise or fall throughout");
                return null;
        }
    }

    private ValueConversion OfCylinder(ConfigObject o, DriveRating drive)
    {
        if (Cylinder is not { IsGood: true, Value: { } geometry })
            return ValueConversion.Identity;
        return new CylinderConversion(geometry, Scale * (Resolve(o, Unit, drive) ?? 1), Resolve(o, Offset, drive) ?? 0);
    }

    private static double? Resolve(ConfigObject o, Setting<Amount?> amount, DriveRating drive) =>
        amount.Value is { } stated ? drive.Resolve(o, amount, stated) : null;

    private static QuantityKind KindOf(SignalInfo info) => info.Unit switch
    {
        "mm" => QuantityKind.Length,
        "kW" => QuantityKind.MotorLoad,
        "m/min" => QuantityKind.BladeSpeed,
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
