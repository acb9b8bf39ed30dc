namespace SawEdge.Core.Alarms;

/// <summary>One occurrence of an alarm, from its raising until nothing is left to be done about it, as it is at a moment.</summary>
public sealed record Alarm
{
    /// <summary>Its number: people name it by that. Rises, is never given twice.</summary>
    public required long Number { get; init; }

    /// <summary>Name of the rule.</summary>
    public required string Rule { get; init; }

    /// <summary>What it is about.</summary>
    public required AlarmSubject Subject { get; init; }

    /// <summary>How urgent.</summary>
    public required AlarmSeverity Severity { get; init; }

    /// <summary>When the condition came.</summary>
    public required DateTimeOffset RaisedAt { get; init; }

    /// <summary>The state.</summary>
    public required AlarmState State { get; init; }

    /// <summary>Whether the condition holds (held chattering counts as active).</summary>
    public required bool IsActive { get; init; }

    /// <summary>The value that raised it, in <see cref="Unit"/>; NaN for texts.</summary>
    public double Value { get; init; } = double.NaN;

    /// <summary>The limit, same unit; NaN where there is none.</summary>
    public double Limit { get; init; } = double.NaN;

    /// <summary>Unit of value and limit as in the data contract.</summary>
    public string Unit { get; init; } = "";

    /// <summary>What was measured, a sentence with values and units.</summary>
    public string Text { get; init; } = "";

    /// <summary>Name of the likeliest cause, or empty.</summary>
    public string Cause { get; init; } = "";

    /// <summary>What it may be; may be empty.</summary>
    public string MayBe { get; init; } = "";

    /// <summary>What to be careful with; empty where nobody is sent to a machine.</summary>
    public string Caution { get; init; } = "";

    /// <summary>The cycle that raised it, or null.</summary>
    public string? CycleId { get; init; }

    /// <summary>When the condition went; null while it holds.</summary>
    public DateTimeOffset? ClearedAt { get; init; }

    /// <summary>When it was acknowledged, or null.</summary>
    public DateTimeOffset? AcknowledgedAt { get; init; }

    /// <summary>Who acknowledged it, or empty.</summary>
    public string AcknowledgedBy { get; init; } = "";

    /// <summary>When its time on the shelf ends, or null.</summary>
    public DateTimeOffset? ShelvedUntil { get; init; }

    /// <summary>Whether it comes and goes too often and is held.</summary>
    public bool IsChattering { get; init; }

    /// <summary>How often the condition came in this occurrence.</summary>
    public int Activations { get; init; } = 1;

    /// <summary>What a person found behind it.</summary>
    public AlarmVerdict Verdict { get; init; }

    /// <summary>Whether nothing is left to be done about it.</summary>
    public bool IsClosed => State == AlarmState.Normal || (!IsActive && State is AlarmState.Shelved or AlarmState.SuppressedByDesign or AlarmState.OutOfService);
}

/// <summary>One thing that happened to an alarm.</summary>
/// <param name="At">When; of one rule and subject each event is later than the one before by at least a millisecond.</param>
/// <param name="Kind">What.</param>
/// <param name="Rule">Name of the rule.</param>
/// <param name="Subject">What the alarm is about.</param>
/// <param name="Before">State before.</param>
/// <param name="After">State after.</param>
/// <param name="Alarm">The occurrence as it is after this; null where there is none, as when something quiet is shelved.</param>
/// <param name="Who">The person, or empty: by itself.</param>
/// <param name="Note">Reason, remark, or what suppressed it; may be empty.</param>
public sealed record AlarmEvent(
    DateTimeOffset At, AlarmEventKind Kind, string Rule, AlarmSubject Subject, AlarmState Before, AlarmState After, Alarm? Alarm, string Who = "", string Note = "");

/// <summary>What a person can do about an alarm.</summary>
public enum AlarmAction : byte
{
    /// <summary>Take note of it.</summary>
    Acknowledge,

    /// <summary>Reset a latched alarm whose condition is gone.</summary>
    Reset,

    /// <summary>Put it aside for a time, with a reason.</summary>
    Shelve,

    /// <summary>Take it from the shelf.</summary>
    Unshelve,

    /// <summary>Take it out of service until further notice, with a reason.</summary>
    TakeOutOfService,

    /// <summary>Put it back into service.</summary>
    ReturnToService,

    /// <summary>Remark something.</summary>
    Comment,

    /// <summary>Say that it was right.</summary>
    Confirm,

    /// <summary>Say that nothing was wrong.</summary>
    Reject,
}

/// <summary>What a person said about an alarm.</summary>
/// <param name="Action">What to do.</param>
/// <param name="Number">The occurrence; 0 where a rule and subject are meant instead (shelving, service).</param>
/// <param name="Rule">Name of the rule, where no occurrence is meant.</param>
/// <param name="Subject">What it is about, where no occurrence is meant.</param>
/// <param name="Who">The person; never empty.</param>
/// <param name="Note">Reason or remark; never empty for shelving, taking out of service and commenting.</param>
/// <param name="Until">End of the time on the shelf.</param>
public sealed record AlarmAnswer(AlarmAction Action, long Number, string Rule, AlarmSubject Subject, string Who, string Note = "", DateTimeOffset? Until = null)
{
    /// <summary>An answer about one occurrence.</summary>
    public static AlarmAnswer To(long number, AlarmAction action, string who, string note = "", DateTimeOffset? until = null) =>
        new(action, number, "", default, who, note, until);
}
