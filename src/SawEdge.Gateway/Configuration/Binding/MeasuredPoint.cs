using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>A raw value and what it stands for.</summary>
/// <param name="Raw">The raw value.</param>
/// <param name="Is">What it stands for.</param>
internal sealed record MeasuredPoint(double Raw, Amount Is)
{
    private static readonly NumberType RawNumber = new(whole: false, -1e15, 1e15, "512");

    /// <summary>A list of them.</summary>
    public static ConfigType<IReadOnlyList<Setting<MeasuredPoint>>> List(QuantityKind kind) => new ListType<MeasuredPoint>(
        new ObjectType<MeasuredPoint>($"pointOf{string.Concat(kind.Name.Split(' ').Select(word => char.ToUpperInvariant(word[0]) + word[1..]))}", "A raw value and what it stands for.", o => new MeasuredPoint(
            o.Required("raw", RawNumber, "The raw value as the controller gives it."),
            o.Required("is", new AmountType(kind), "What was measured at it.").Value)),
        2,
        "write at least two points: [ { \"raw\": 512, \"is\": ... }, { \"raw\": 3800, \"is\": ... } ]");
}

/// <summary>Declares the geometry of a pivoting head.</summary>
internal static class CylinderBinding
{
    /// <summary>The geometry.</summary>
    public static ObjectType<CylinderGeometry> Type { get; } = new("cylinder", "Measures of a pivoting head and the cylinder that holds it, taken from pin to pin.", o =>
    {
        var toBase = o.Required("pivotToBase", ValueTypes.Length("10 mm", "10 m"), "From the head's pivot to the cylinder's fixed pin.");
        var toRod = o.Required("pivotToRod", ValueTypes.Length("10 mm", "10 m"), "From the head's pivot to the pin of the piston rod.");
        var closed = o.Required("closed", ValueTypes.Length("10 mm", "10 m"), "From pin to pin where the stroke reads 0.");
        var atTable = o.Required("strokeAtTable", ValueTypes.Length("-1 m", "10 m"), "The stroke that is read where the cutting edge lies on the table.");
        var toCut = o.Required("pivotToCut", ValueTypes.Length("10 mm", "10 m"), "Along the table from the pivot to the middle of the vise, where the height counts.");
        var above = o.Default("pivotAboveTable", ValueTypes.Length("-2 m", "2 m"), "0 mm", "Height of the pivot above the table.");
        var raises = o.Default("raises", new ChoiceType<bool>(("extending", false, "The head comes up where the cylinder extends."), ("retracting", true, "The head comes up where the cylinder retracts.")), "extending", "Which way of the cylinder raises the head.");
        var geometry = new CylinderGeometry(toBase, toRod, closed, atTable, toCut, above, raises);
        var isGood = toBase.IsGood && toRod.IsGood && closed.IsGood && atTable.IsGood && toBase.IsStated && toRod.IsStated && closed.IsStated && atTable.IsStated;
        if (isGood && double.IsNaN(geometry.AngleRad(atTable)))
            o.Error(atTable, "the cylinder would be too long or too short to reach from pin to pin there; measure the three lengths anew");
        return geometry;
    });
}
