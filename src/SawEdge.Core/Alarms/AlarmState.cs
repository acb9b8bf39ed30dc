namespace SawEdge.Core.Alarms;

/// <summary>
/// The state of an alarm, letters as in the state transition diagram of ANSI/ISA-18.2 (IEC 62682) (from memory): of those that hold at
/// once the one that comes last in the alphabet is the state.
/// </summary>
public enum AlarmState : byte
{
    /// <summary>A: no alarm.</summary>
    Normal,

    /// <summary>B: active, not acknowledged.</summary>
    Unacknowledged,

    /// <summary>C: active, acknowledged.</summary>
    Acknowledged,

    /// <summary>D: the condition is gone, not acknowledged.</summary>
    ReturnedUnacknowledged,

    /// <summary>E: the condition is gone, latched, not acknowledged.</summary>
    LatchedUnacknowledged,

    /// <summary>F: the condition is gone, latched, acknowledged: waits for a reset.</summary>
    LatchedAcknowledged,

    /// <summary>G: shelved by a person for a time.</summary>
    Shelved,

    /// <summary>H: suppressed by design: outside of the rule's hours, or by an alarm that is the cause of this one.</summary>
    SuppressedByDesign,

    /// <summary>I: taken out of service by a person until further notice.</summary>
    OutOfService,
}

/// <summary>What happened to an alarm.</summary>
public enum AlarmEventKind : byte
{
    /// <summary>The condition came.</summary>
    Raised,

    /// <summary>The condition went.</summary>
    Cleared,

    /// <summary>A person acknowledged it.</summary>
    Acknowledged,

    /// <summary>A person reset a latched alarm.</summary>
    Reset,

    /// <summary>A person shelved it for a time.</summary>
    Shelved,

    /// <summary>The time on the shelf ended, or a person ended it.</summary>
    Unshelved,

    /// <summary>A person took it out of service.</summary>
    TakenOutOfService,

    /// <summary>A person put it back into service.</summary>
    ReturnedToService,

    /// <summary>Its suppression by design began.</summary>
    Suppressed,

    /// <summary>Its suppression by design ended.</summary>
    Unsuppressed,

    /// <summary>It comes and goes too often: it is held active until it has been quiet.</summary>
    Chattering,

    /// <summary>It has been quiet: held no longer.</summary>
    Settled,

    /// <summary>A person remarked something.</summary>
    Commented,

    /// <summary>A person said that it was right.</summary>
    Confirmed,

    /// <summary>A person said that nothing was wrong.</summary>
    Rejected,
}

/// <summary>What a person found behind an alarm.</summary>
public enum AlarmVerdict : byte
{
    /// <summary>Nobody has said.</summary>
    None,

    /// <summary>The alarm was right.</summary>
    Confirmed,

    /// <summary>Nothing was wrong.</summary>
    Rejected,
}

/// <summary>The words for states and events outside the process.</summary>
public static class AlarmStates
{
    private static readonly string[] Names =
        ["normal", "unacknowledged", "acknowledged", "returned_unacknowledged", "latched_unacknowledged", "latched_acknowledged", "shelved", "suppressed_by_design", "out_of_service"];

    private static readonly string[] Events =
    [
        "raised", "cleared", "acknowledged", "reset", "shelved", "unshelved", "taken_out_of_service", "returned_to_service",
        "suppressed", "unsuppressed", "chattering", "settled", "commented", "confirmed", "rejected",
    ];

    private static readonly string[] Severities = ["low", "medium", "high"];

    private static readonly string[] Verdicts = ["", "confirmed", "rejected"];

    /// <summary>The word for a state, snake case.</summary>
    public static string ToName(this AlarmState state) => Names[(int)state];

    /// <summary>The letter of a state in the standard's diagram, A to I.</summary>
    public static char ToLetter(this AlarmState state) => (char)('A' + (int)state);

    /// <summary>The word for an event, snake case.</summary>
    public static string ToName(this AlarmEventKind kind) => Events[(int)kind];

    /// <summary>The word for a severity.</summary>
    public static string ToName(this AlarmSeverity severity) => Severities[(int)severity];

    /// <summary>The word for a verdict; empty for none.</summary>
    public static string ToName(this AlarmVerdict verdict) => Verdicts[(int)verdict];

    /// <summary>The state of a word; null for another word.</summary>
    public static AlarmState? State(string word) => Find<AlarmState>(Names, word);

    /// <summary>The event of a word; null for another word.</summary>
    public static AlarmEventKind? Event(string word) => Find<AlarmEventKind>(Events, word);

    /// <summary>The severity of a word; null for another word.</summary>
    public static AlarmSeverity? Severity(string word) => Find<AlarmSeverity>(Severities, word);

    /// <summary>The verdict of a word, empty for none; null for another word.</summary>
    public static AlarmVerdict? Verdict(string word) => Find<AlarmVerdict>(Verdicts, word);

    private static T? Find<T>(string[] words, string word)
        where T : struct, Enum => Array.IndexOf(words, word) is var index and >= 0 ? (T)Enum.ToObject(typeof(T), index) : null;
}
