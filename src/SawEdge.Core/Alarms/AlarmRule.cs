namespace SawEdge.Core.Alarms;

/// <summary>How urgent an alarm is. Three levels, as ANSI/ISA-18.2 and IEC 62682 advise.</summary>
public enum AlarmSeverity : byte
{
    /// <summary>To be looked at in the course of the work.</summary>
    Low,

    /// <summary>To be looked at soon.</summary>
    Medium,

    /// <summary>To be looked at now.</summary>
    High,
}

/// <summary>How a value is held against a limit.</summary>
public enum AlarmComparison : byte
{
    /// <summary>Greater than the limit.</summary>
    Above,

    /// <summary>Less than the limit.</summary>
    Below,

    /// <summary>One of the words; of a flag: true.</summary>
    Is,

    /// <summary>None of the words; of a flag: false.</summary>
    IsNot,
}

/// <summary>What a saw is doing; a rule may hold in some of them only.</summary>
[Flags]
public enum SawStates : byte
{
    /// <summary>No state.</summary>
    None = 0,

    /// <summary>Between cycles, or nothing known yet.</summary>
    Idle = 1,

    /// <summary>In a cycle.</summary>
    Cycle = 2,

    /// <summary>In a cycle whose cycle bit fell with the head in the stock.</summary>
    Stopped = 4,

    /// <summary>In the stock: the controller's cutting bit where it has one, else in a cycle with the load above idle.</summary>
    Cutting = 8,

    /// <summary>The blade is driven: the controller's bit where it has one, else a load above nothing.</summary>
    BladeRunning = 16,

    /// <summary>Whatever it does.</summary>
    Any = Idle | Cycle | Stopped | Cutting | BladeRunning,
}

/// <summary>The condition of a rule.</summary>
public sealed record AlarmTest
{
    /// <summary>How the value is compared.</summary>
    public required AlarmComparison Comparison { get; init; }

    /// <summary>The limit, in the variable's unit; NaN for flags and texts.</summary>
    public double Limit { get; init; } = double.NaN;

    /// <summary>
    /// The value from which on the condition counts as gone again, in the variable's unit: for Above it is met below this, for
    /// Below above it (OPC 10000-9, B.1.5: a high alarm clears when the value is less than limit - deadband). The limit
    /// itself where there is no deadband.
    /// </summary>
    public double ClearLimit { get; init; } = double.NaN;

    /// <summary>The words that texts are compared with; empty for numbers and flags.</summary>
    public IReadOnlyList<string> Words { get; init; } = [];
}

/// <summary>How many of the latest cuts must meet a condition. Cuts of which nothing is known do not count.</summary>
/// <param name="Least">Cuts that must meet it.</param>
/// <param name="Of">Among so many.</param>
/// <param name="ClearAfter">Cuts in a row that do not meet it, after which it counts as gone.</param>
public sealed record CutCount(int Least, int Of, int ClearAfter)
{
    /// <summary>Each cut for itself.</summary>
    public static CutCount Each { get; } = new(1, 1, 1);
}

/// <summary>When in the week a rule holds or a contact is told.</summary>
/// <param name="Zone">The time zone in which the hours are meant.</param>
/// <param name="Spans">The spans; one whose end is not after its begin goes on into the next day.</param>
public sealed record WorkingHours(TimeZoneInfo Zone, IReadOnlyList<WorkingSpan> Spans);

/// <summary>A span of time on some weekdays.</summary>
/// <param name="Days">The weekdays on which it begins.</param>
/// <param name="From">Its begin, time of day.</param>
/// <param name="To">Its end, time of day; midnight: the end of the day.</param>
public sealed record WorkingSpan(IReadOnlySet<DayOfWeek> Days, TimeOnly From, TimeOnly To);

/// <summary>One rule: when something deserves an alarm, and what the alarm says. Data, not code.</summary>
public sealed record AlarmRule
{
    /// <summary>Name, unique.</summary>
    public required string Name { get; init; }

    /// <summary>What it looks at.</summary>
    public required AlarmVariable Variable { get; init; }

    /// <summary>The condition.</summary>
    public required AlarmTest Test { get; init; }

    /// <summary>How long the condition must hold without a break before the alarm is raised. Not for findings, cycles and blades.</summary>
    public TimeSpan OnDelay { get; init; }

    /// <summary>How long it must be gone without a break before the alarm is cleared. Not for findings, cycles and blades.</summary>
    public TimeSpan OffDelay { get; init; }

    /// <summary>How many cuts must meet it; for findings, cycles and blades.</summary>
    public CutCount Cuts { get; init; } = CutCount.Each;

    /// <summary>How urgent.</summary>
    public AlarmSeverity Severity { get; init; } = AlarmSeverity.Medium;

    /// <summary>What the alarm says; see <see cref="AlarmTemplate"/>.</summary>
    public required AlarmTemplate Text { get; init; }

    /// <summary>What it may be, where the load score has no likely cause of its own; may be empty.</summary>
    public string MayBe { get; init; } = "";

    /// <summary>The caution that goes with looking after it, where the load score has none of its own; empty where nobody is sent to a machine.</summary>
    public string Caution { get; init; } = "";

    /// <summary>The subjects it holds for, by name; null for all of its kind.</summary>
    public IReadOnlySet<string>? Subjects { get; init; }

    /// <summary>When it holds; null: always. Outside, its alarms are suppressed by design.</summary>
    public WorkingHours? Hours { get; init; }

    /// <summary>Whether it holds only while people are at work by the plant's calendar; without a calendar it holds always. Outside, its alarms are suppressed by design.</summary>
    public bool InShifts { get; init; }

    /// <summary>What the saw must be doing; part of the condition. Only for signals.</summary>
    public SawStates While { get; init; } = SawStates.Any;

    /// <summary>Whether the alarm stays until somebody resets it, though the condition is gone.</summary>
    public bool Latch { get; init; }

    /// <summary>Whether, while it is active, the other alarms of its saw, or of the saws behind its source, are suppressed by design: one cause, one message.</summary>
    public bool Silences { get; init; }

    /// <summary>The span that OEE figures are taken over; null: the shift so far.</summary>
    public TimeSpan? Over { get; init; }

    /// <summary>Whether another rule says exactly the same, so that what was seen of the one holds for the other.</summary>
    public bool SaysTheSameAs(AlarmRule other) =>
        Bare(this) == Bare(other) && Test.Words.SequenceEqual(other.Test.Words, StringComparer.Ordinal) && AreSame(Subjects, other.Subjects) && AreSame(Hours, other.Hours);

    // Without what is compared by its items.
    private static AlarmRule Bare(AlarmRule rule) => rule with { Test = rule.Test with { Words = [] }, Subjects = null, Hours = null };

    private static bool AreSame(IReadOnlySet<string>? one, IReadOnlySet<string>? other) => one is null ? other is null : other is not null && one.SetEquals(other);

    private static bool AreSame(WorkingHours? one, WorkingHours? other) => one is null || other is null
        ? one is null && other is null
        : one.Zone.Equals(other.Zone) && one.Spans.Count == other.Spans.Count
            && one.Spans.Zip(other.Spans).All(pair => pair.First.Days.SetEquals(pair.Second.Days) && pair.First.From == pair.Second.From && pair.First.To == pair.Second.To);
}
