namespace SawEdge.Core.Alarms;

/// <summary>Who is told of which alarms, and when. Where: the channel, which only knows how.</summary>
public sealed record Contact
{
    /// <summary>Name, unique.</summary>
    public required string Name { get; init; }

    /// <summary>Name of the channel that messages to it leave by.</summary>
    public required string Channel { get; init; }

    /// <summary>Least severity of which it is told.</summary>
    public AlarmSeverity Least { get; init; } = AlarmSeverity.Low;

    /// <summary>The subjects of which it is told, by name; null: all.</summary>
    public IReadOnlySet<string>? Subjects { get; init; }

    /// <summary>The rules of which it is told, by name; null: all.</summary>
    public IReadOnlySet<string>? Rules { get; init; }

    /// <summary>When it is told; null: always. What comes outside and is still open when the hours begin is told then, in one message.</summary>
    public WorkingHours? Hours { get; init; }

    /// <summary>For how long alarms are gathered into one message; zero: each at once.</summary>
    public TimeSpan Digest { get; init; }

    /// <summary>Whether it is told that the condition of an alarm it was told of is gone.</summary>
    public bool TellCleared { get; init; }

    /// <summary>How often it is reminded of an alarm that nobody acknowledges; null: never.</summary>
    public TimeSpan? RemindEvery { get; init; }

    /// <summary>Whether it is told only of what others did not acknowledge: alarms come to it by escalation alone.</summary>
    public bool OnlyEscalated { get; init; }

    /// <summary>After how long without acknowledgement <see cref="EscalateTo"/> is told; null: never.</summary>
    public TimeSpan? EscalateAfter { get; init; }

    /// <summary>The contact that is told then; empty where nobody.</summary>
    public string EscalateTo { get; init; } = "";
}

/// <summary>Why a message goes out.</summary>
public enum NoticeKind : byte
{
    /// <summary>An alarm was raised.</summary>
    Raised,

    /// <summary>Its condition is gone.</summary>
    Cleared,

    /// <summary>Nobody has acknowledged it yet.</summary>
    Reminder,

    /// <summary>Others were told and did not acknowledge it.</summary>
    Escalated,

    /// <summary>Several that were gathered.</summary>
    Digest,

    /// <summary>A person tries the channel.</summary>
    Test,
}

/// <summary>A message that is to go out: to whom, why, and about which alarms. What it says is written when it leaves.</summary>
/// <param name="At">When it was decided.</param>
/// <param name="Kind">Why.</param>
/// <param name="Contact">Name of the contact.</param>
/// <param name="Channel">Name of the channel.</param>
/// <param name="Alarms">Numbers of the alarms, oldest first; empty for a test.</param>
public sealed record Notice(DateTimeOffset At, NoticeKind Kind, string Contact, string Channel, IReadOnlyList<long> Alarms);
