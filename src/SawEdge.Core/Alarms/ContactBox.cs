namespace SawEdge.Core.Alarms;

/// <summary>What waits to be told to one contact, and how much it was told of late.</summary>
internal sealed class ContactBox(Contact contact)
{
    /// <summary>A flood begins above so many things to tell within <see cref="FloodSpan"/> (ANSI/ISA-18.2, clause 16; from memory).</summary>
    public const int FloodFrom = 10;

    /// <summary>A flood ends below so many (same source; from memory).</summary>
    public const int FloodUntil = 5;

    /// <summary>See <see cref="FloodFrom"/>.</summary>
    public static readonly TimeSpan FloodSpan = TimeSpan.FromMinutes(10);

    /// <summary>For how long messages are gathered in a flood. Common practice, no source.</summary>
    public static readonly TimeSpan FloodDigest = TimeSpan.FromMinutes(5);

    /// <summary>The contact.</summary>
    public Contact Contact => contact;

    /// <summary>The alarms that wait to be told of, and why; one alarm once.</summary>
    public SortedDictionary<long, NoticeKind> Waiting { get; } = [];

    /// <summary>When what waits goes out, hours permitting.</summary>
    public DateTimeOffset Due { get; set; }

    /// <summary>Whether there is too much to tell one by one.</summary>
    public bool IsFlooded { get; set; }

    /// <summary>When there was something to tell: the latest times, no more than tell a flood.</summary>
    public List<DateTimeOffset> Recent { get; } = [];

    /// <summary>Whether an alarm waits.</summary>
    public bool Holds(long number) => Waiting.ContainsKey(number);

    /// <summary>Forgets what waits about an alarm.</summary>
    public void Drop(long number, Predicate<NoticeKind> which)
    {
        if (Waiting.TryGetValue(number, out var kind) && which(kind))
            Waiting.Remove(number);
    }

    /// <summary>Puts what would be one message.</summary>
    public void Put(IEnumerable<(long Number, NoticeKind Kind)> items, DateTimeOffset now)
    {
        LookAtFlood(now);
        Recent.Add(now);
        if (Recent.Count > FloodFrom)
        {
            IsFlooded = true;
            Recent.RemoveRange(0, Recent.Count - FloodFrom - 1);
        }

        var gather = IsFlooded && contact.Digest < FloodDigest ? FloodDigest : contact.Digest;
        if (Waiting.Count == 0)
            Due = now + gather;
        foreach (var (number, kind) in items)
            Waiting[number] = kind;
    }

    /// <summary>Sees whether a flood is over.</summary>
    public void LookAtFlood(DateTimeOffset now)
    {
        // A clock that was set back would make old times lie in the future, and a digest wait for them for hours.
        Recent.RemoveAll(time => (now - time).Duration() >= FloodSpan);
        if (Recent.Count < FloodUntil)
            IsFlooded = false;
        if (Due - now > contact.Digest + FloodSpan)
            Due = now;
    }
}
