namespace SawEdge.Core.Oee;

/// <summary>A span of time, its begin included and its end not. Times are UTC; its length is elapsed time.</summary>
public readonly record struct Period
{
    /// <summary>Makes a period.</summary>
    /// <param name="from">Its begin.</param>
    /// <param name="to">Its end.</param>
    /// <exception cref="ArgumentException">It ends before it begins.</exception>
    public Period(DateTimeOffset from, DateTimeOffset to)
    {
        if (to < from)
            throw new ArgumentException($"The period ends before it begins: it begins {from:u} and ends {to:u}.", nameof(to));
        From = from.ToUniversalTime();
        To = to.ToUniversalTime();
    }

    /// <summary>Its begin.</summary>
    public DateTimeOffset From { get; }

    /// <summary>Its end, which no longer belongs to it.</summary>
    public DateTimeOffset To { get; }

    /// <summary>Elapsed time from begin to end.</summary>
    public TimeSpan Duration => To - From;

    /// <summary>Whether no moment lies in it.</summary>
    public bool IsEmpty => From == To;

    /// <summary>Whether a moment lies in it.</summary>
    public bool Contains(DateTimeOffset at) => at >= From && at < To;

    /// <summary>Whether the two have a moment in common.</summary>
    public bool Overlaps(Period other) => From < other.To && other.From < To && !IsEmpty && !other.IsEmpty;

    /// <summary>What lies in both; empty where there is nothing.</summary>
    public Period Clip(Period other)
    {
        var from = From > other.From ? From : other.From;
        var to = To < other.To ? To : other.To;
        return to > from ? new Period(from, to) : new Period(from, from);
    }

    internal static Period OfTicks(long from, long to) => new(new DateTimeOffset(from, TimeSpan.Zero), new DateTimeOffset(to, TimeSpan.Zero));
}
