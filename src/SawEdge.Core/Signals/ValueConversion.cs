namespace SawEdge.Core.Signals;

/// <summary>The way from a controller's raw value to a signal's value in its own unit. Pure; allocates nothing.</summary>
public abstract record ValueConversion
{
    /// <summary>Raw values that are in the signal's unit already.</summary>
    public static ValueConversion Identity { get; } = new LinearConversion(1, 0);

    /// <summary>Converts.</summary>
    /// <param name="raw">The raw value, finite.</param>
    /// <returns>The value in the signal's unit; NaN or infinite where the raw value stands for none.</returns>
    public abstract double Apply(double raw);

    /// <summary>value = raw * scale + offset.</summary>
    /// <param name="scale">Factor to the signal's unit.</param>
    /// <param name="offset">Offset in the signal's unit.</param>
    public static ValueConversion Linear(double scale, double offset = 0) => new LinearConversion(scale, offset);
}

/// <summary>value = raw * scale + offset.</summary>
/// <param name="Scale">Factor to the signal's unit.</param>
/// <param name="Offset">Offset in the signal's unit.</param>
public sealed record LinearConversion(double Scale, double Offset) : ValueConversion
{
    /// <inheritdoc/>
    public override double Apply(double raw) => (raw * Scale) + Offset;
}
