namespace SawEdge.Gateway.Configuration;

/// <summary>
/// A metric unit and the unit that stands in its place where people read inches. What is not in the table stays metric.
/// </summary>
/// <param name="Metric">The metric unit, as in the data contract.</param>
/// <param name="Inch">The unit in its place.</param>
/// <param name="Divisor">What a value is divided by: one of the inch unit in the metric unit, exact (NIST SP 811, appendix B; hp: the mechanical one).</param>
public sealed record InchUnit(string Metric, string Inch, double Divisor)
{
    /// <summary>All of them; the page has the same (Page/units.js).</summary>
    public static IReadOnlyList<InchUnit> All { get; } =
    [
        new("mm", "in", 25.4),
        new("mm/min", "in/min", 25.4),
        new("cm2", "in2", 6.4516),
        new("m2", "ft2", 0.092_903_04),
        new("cm2/min", "in2/min", 6.4516),
        new("cm3/min", "in3/min", 16.387_064),
        new("m/min", "ft/min", 0.3048),
        new("kW", "hp", QuantityKind.Power.Unit("hp")!.Factor),
    ];

    /// <summary>The unit in the place of a metric one; null where that stays.</summary>
    public static InchUnit? Of(string metric) => All.FirstOrDefault(unit => unit.Metric == metric);

    /// <summary>A metric value in it.</summary>
    public double Convert(double metric) => metric / Divisor;
}
