using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>What is known of the saw's drive, which relative amounts need.</summary>
internal sealed record DriveRating
{
    /// <summary>A drive of which nothing is known.</summary>
    public static DriveRating None { get; } = new();

    /// <summary>Rated power, kW.</summary>
    public Setting<double?> PowerKw { get; init; }

    /// <summary>Rated current, A.</summary>
    public Setting<double?> CurrentA { get; init; }

    /// <summary>Current without load, A.</summary>
    public Setting<double?> NoLoadA { get; init; }

    /// <summary>Diameter of the driving wheel, mm.</summary>
    public Setting<double?> WheelMm { get; init; }

    /// <summary>Turns of the motor for one of the wheel.</summary>
    public Setting<double?> GearRatio { get; init; }

    /// <summary>Rated turns of the motor, rpm.</summary>
    public Setting<double?> Rpm { get; init; }

    /// <summary>Frequency at which it makes them, Hz.</summary>
    public Setting<double?> Hz { get; init; }

    /// <summary>The amount in the base unit, or null where a rated value is missing, which is reported.</summary>
    /// <param name="o">Where mistakes are reported.</param>
    /// <param name="at">The setting that states it.</param>
    /// <param name="amount">The amount.</param>
    public double? Resolve<T>(ConfigObject o, Setting<T> at, Amount amount) => Factor(o, at, amount.RelativeTo) switch
    {
        null => null,
        _ when amount.RelativeTo == QuantityReference.RatedCurrent => FromAmperes(1, 0, 0).Apply(amount.Value),
        var factor => amount.Value * factor,
    };

    /// <summary>What one of a unit's reference is in the signal's unit, or null where a value is missing, which is reported.</summary>
    /// <param name="o">Where mistakes are reported.</param>
    /// <param name="at">The setting that states the unit.</param>
    /// <param name="reference">The reference; null: the unit is absolute.</param>
    public double? Factor<T>(ConfigObject o, Setting<T> at, QuantityReference? reference) => reference switch
    {
        null => 1,
        QuantityReference.RatedPower => Need(o, at, "percent of rated needs", (PowerKw, "ratedPower", "5.5 kW")) ? PowerKw.Value : null,
        QuantityReference.RatedCurrent => Need(o, at, "amperes need", (PowerKw, "ratedPower", "5.5 kW"), (CurrentA, "ratedCurrent", "11.5 A")) ? PowerKw.Value / CurrentA.Value : null,
        QuantityReference.MotorTurns => Need(o, at, "turns of the motor need", (WheelMm, "wheelDiameter", "480 mm"), (GearRatio, "gearRatio", "28")) ? MetresATurn : null,
        _ => Need(o, at, "a frequency needs", (WheelMm, "wheelDiameter", "480 mm"), (GearRatio, "gearRatio", "28"), (Rpm, "ratedSpeed", "1450 rpm"), (Hz, "ratedFrequency", "50 Hz")) ? MetresATurn * Rpm.Value / Hz.Value : null,
    };

    /// <summary>The way from amperes to the load.</summary>
    /// <param name="scale">Factor from the raw value to amperes.</param>
    /// <param name="offsetA">Added to the current, A.</param>
    /// <param name="offsetKw">Added to the power, kW.</param>
    public ValueConversion FromAmperes(double scale, double offsetA, double offsetKw) => NoLoadA.Value is null && offsetA == 0
        ? ValueConversion.Linear(scale * (PowerKw.Value / CurrentA.Value ?? 0), offsetKw)
        : new MotorCurrentConversion(scale, offsetA, PowerKw.Value ?? 0, CurrentA.Value ?? 0, NoLoadA.Value ?? 0, offsetKw);

    // The way that a blade makes with one turn of the motor, m: the wheel's circumference, through the gear.
    private double? MetresATurn => Math.PI * WheelMm.Value / 1000 / GearRatio.Value;

    private static bool Need<T>(ConfigObject o, Setting<T> at, string what, params (Setting<double?> Value, string Name, string Example)[] needed)
    {
        var missing = needed.Where(one => !one.Value.IsStated).ToList();
        if (missing.Count > 0)
            o.Error(at, $"{what} {And(missing.Select(one => $"machine.{one.Name}"))} of this saw, for example {And(missing.Select(one => double.TryParse(one.Example, out _) ? one.Example : $"\"{one.Example}\""))}");

        // One that was stated and cannot be read has its own finding.
        return missing.Count == 0 && needed.All(one => one.Value.Value is not null);
    }

    private static string And(IEnumerable<string> words)
    {
        List<string> all = [.. words];
        return all.Count == 1 ? all[0] : $"{string.Join(", ", all.Take(all.Count - 1))} and {all[^1]}";
    }
}
