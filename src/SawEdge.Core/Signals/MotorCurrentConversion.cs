namespace SawEdge.Core.Signals;

/// <summary>
/// Power from the current of an induction motor whose no-load current is known. The current is the geometric sum of the magnetizing current,
/// which is taken as the no-load current at any load, and the active current, which is taken as proportional to the power:
/// <c>P = rated * sqrt((I^2 - I0^2) / (Ir^2 - I0^2))</c>, 0 below the no-load current. The equation is that of the right-angled triangle of the two
/// currents at constant voltage; that the magnetizing current does not change with load is common practice, no source.
/// </summary>
/// <param name="Scale">Factor from the raw value to amperes.</param>
/// <param name="OffsetA">Added to the current, A.</param>
/// <param name="RatedKw">Rated power, kW.</param>
/// <param name="RatedA">Rated current, A; greater than the no-load current.</param>
/// <param name="NoLoadA">Current of the motor that runs without load, A; 0: power is proportional to current.</param>
/// <param name="OffsetKw">Added to the power, kW.</param>
public sealed record MotorCurrentConversion(double Scale, double OffsetA, double RatedKw, double RatedA, double NoLoadA, double OffsetKw = 0) : ValueConversion
{
    /// <inheritdoc/>
    public override double Apply(double raw)
    {
        var current = Math.Abs((raw * Scale) + OffsetA);
        return current <= NoLoadA
            ? OffsetKw
            : OffsetKw + (RatedKw * Math.Sqrt(((current * current) - (NoLoadA * NoLoadA)) / ((RatedA * RatedA) - (NoLoadA * NoLoadA))));
    }
}
