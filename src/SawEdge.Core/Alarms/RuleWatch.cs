namespace SawEdge.Core.Alarms;

/// <summary>
/// Follows one rule's condition on a value that is looked at again and again: limit, deadband, delays. A value that is not
/// known (NaN, null) changes nothing and starts the delays anew. At first nothing is known: that the condition does not hold
/// is said as it is later, after the off-delay, so that a restart clears nothing too soon. Allocates nothing. Not thread safe.
/// </summary>
public sealed class RuleWatch(AlarmRule rule)
{
    private const long NotSince = long.MinValue;

    private long _metSince = NotSince;
    private long _goneSince = NotSince;

    /// <summary>The rule.</summary>
    public AlarmRule Rule => rule;

    /// <summary>Whether the condition holds, delays included; null while nothing is known.</summary>
    public bool? Holds { get; private set; }

    /// <summary>The value last pushed that was known.</summary>
    public double Value { get; private set; } = double.NaN;

    /// <summary>Takes a number or flag (0 or 1).</summary>
    /// <param name="at">Its time; one before the last one's starts the delays anew.</param>
    /// <param name="value">The value; NaN: not known.</param>
    /// <param name="applies">Whether the saw is in one of the rule's states; outside of them the condition does not hold.</param>
    /// <returns>Whether <see cref="Holds"/> changed.</returns>
    public bool Push(DateTimeOffset at, double value, bool applies = true)
    {
        var known = !double.IsNaN(value);
        if (known)
            Value = value;
        return Follow(at, known, known && rule.Test.Meets(value), known && rule.Test.Ends(value), applies);
    }

    /// <summary>Takes a text.</summary>
    /// <inheritdoc cref="Push(DateTimeOffset, double, bool)"/>
    public bool Push(DateTimeOffset at, string? value, bool applies = true)
    {
        var meets = value is not null && rule.Test.Meets(value);
        return Follow(at, value is not null, meets, !meets, applies);
    }

    private bool Follow(DateTimeOffset at, bool known, bool meets, bool ends, bool applies)
    {
        if (!applies)
            (known, meets, ends) = (true, false, true);
        var ticks = at.UtcTicks;
        _metSince = known && meets ? Since(_metSince, ticks) : NotSince;
        _goneSince = known && ends ? Since(_goneSince, ticks) : NotSince;
        var holds = Holds;
        if (_metSince != NotSince && ticks - _metSince >= rule.OnDelay.Ticks)
            holds = true;
        else if (_goneSince != NotSince && ticks - _goneSince >= rule.OffDelay.Ticks)
            holds = false;
        if (holds == Holds)
            return false;
        Holds = holds;
        return true;
    }

    private static long Since(long since, long now) => since == NotSince || since > now ? now : since;
}
