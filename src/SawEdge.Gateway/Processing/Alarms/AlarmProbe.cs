using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.Processing.Alarms;

/// <summary>What a probe read.</summary>
/// <param name="Value">The value in the variable's unit, flags as 0 or 1; NaN: not known.</param>
/// <param name="AtLeast">Whether the true value may be greater: enough to say that a limit is exceeded, and not that it is kept.</param>
internal readonly record struct ProbeValue(double Value, bool AtLeast = false)
{
    /// <summary>A value that is known.</summary>
    public static implicit operator ProbeValue(double value) => new(value);

    /// <summary>A flag that is known.</summary>
    public static implicit operator ProbeValue(bool value) => new(value ? 1 : 0);
}

/// <summary>Something that the desk looks at each second: communication, the gateway itself, figures over time.</summary>
/// <param name="Variable">What it measures.</param>
/// <param name="Subject">Of what.</param>
/// <param name="Read">Reads it; at once, and from the desk's loop only.</param>
internal sealed record AlarmProbe(AlarmVariable Variable, AlarmSubject Subject, Func<ProbeValue> Read)
{
    /// <summary>The one rule that it is for, where rules on the same variable need different values; null: all.</summary>
    public string? Rule { get; init; }

    /// <summary>What texts can name besides, or null; asked when a condition came.</summary>
    public Func<IReadOnlyDictionary<string, AlarmFact>>? Facts { get; init; }
}
