namespace SawEdge.Core.Alarms;

/// <summary>
/// Follows one rule's condition on a value that is looked at again and again: limit, deadband, delays. A value that is not
/// known (NaN, null) changes nothing and starts the delays anew. Allocates nothing. Not thread safe.
/// </summary>
public sealed class RuleWatch(AlarmRule rule)
{
    /// <summary>The rule.</summary>
    public AlarmRule Rule => rule;

    /// <summary>Whether the condition holds, delays included; null while nothing is known.</summary>
    public bool? Holds { get; private set; }

    /// <summary>The value last pushed that was known.</summary>
    public double Value { get; private set; } = double.NaN;

    /// <summary>Takes a number or flag (0 or 1).</summary>
    /// <param name="at">Its time; not before the last one's.</param>
    /// <param name="value">The value; NaN: not known.</param>
    /// <param name="applies">Whether the saw is in one of the rule's states; outside of them the condition does not hold.</param>
    /// <returns>Whether <see cref="Holds"/> changed.</returns>
    public bool Push(DateTimeOffset at, double value, bool applies = true) => throw new NotImplementedException();

    /// <summary>Takes a text.</summary>
    /// <inheritdoc cref="Push(DateTimeOffset, double, bool)"/>
    public bool Push(DateTimeOffset at, string? value, bool applies = true) => throw new NotImplementedException();
}
