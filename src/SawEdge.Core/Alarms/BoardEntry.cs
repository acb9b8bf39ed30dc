namespace SawEdge.Core.Alarms;

/// <summary>What the board holds of one rule about one subject.</summary>
internal sealed class BoardEntry(string rule, AlarmSubject subject)
{
    /// <summary>An order that does not depend on which came first: a restart must change nothing.</summary>
    public static IComparer<(string Rule, AlarmSubject Subject)> Order { get; } = Comparer<(string Rule, AlarmSubject Subject)>.Create((a, b) =>
        string.CompareOrdinal(a.Rule, b.Rule) is var rules and not 0 ? rules
        : a.Subject.Kind != b.Subject.Kind ? a.Subject.Kind.CompareTo(b.Subject.Kind)
        : string.CompareOrdinal(a.Subject.Name, b.Subject.Name));

    /// <summary>Name of the rule.</summary>
    public string RuleName => rule;

    /// <summary>What it is about.</summary>
    public AlarmSubject Subject => subject;

    /// <summary>The rule; null where it is gone, or no longer about this subject.</summary>
    public AlarmRule? Rule { get; set; }

    /// <summary>Where it stands.</summary>
    public AlarmLife Life { get; set; }

    /// <summary>The open occurrence, as after its last event; null where none is open.</summary>
    public Alarm? Alarm { get; set; }

    /// <summary>Whether the condition holds, as was told last.</summary>
    public bool Holds { get; set; }

    /// <summary>Whether it is held active because it comes and goes too often.</summary>
    public bool IsChattering { get; set; }

    /// <summary>Since when the condition of what is held is gone; null while it holds.</summary>
    public DateTimeOffset? GoneSince { get; set; }

    /// <summary>End of the time on the shelf.</summary>
    public DateTimeOffset? ShelvedUntil { get; set; }

    /// <summary>Time of the last event.</summary>
    public DateTimeOffset LastEventAt { get; set; }

    /// <summary>When the condition came, the latest few times, oldest first.</summary>
    public List<DateTimeOffset> Activations { get; init; } = [];

    /// <summary>What stands for it in a sentence.</summary>
    public string Words => Alarm is null ? $"Rule {rule} about {subject}" : $"Alarm {Alarm.Number} ({rule}, {subject})";

    /// <summary>Counts a coming of the condition.</summary>
    /// <returns>Whether these are too many.</returns>
    public bool CountsAsChatter(DateTimeOffset at, int from, TimeSpan within)
    {
        // A clock that was set back would make old times lie in the future.
        Activations.RemoveAll(time => time > at || at - time > within);
        if (Activations.Count == from)
            Activations.RemoveAt(0);
        Activations.Add(at);
        return Activations.Count >= from;
    }
}
