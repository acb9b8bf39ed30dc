namespace SawEdge.Core.Oee;

/// <summary>How time is told apart.</summary>
public sealed record OeeSettings
{
    /// <summary>
    /// The longest short stop: one that nobody explained and that is not longer counts as short, whatever its cause. It is measured within a
    /// stretch of planned busy time of one shift. Common practice, no source.
    /// </summary>
    public TimeSpan ShortStop { get; init; } = TimeSpan.FromMinutes(5);

    /// <summary>What the reasons that controllers tell mean, by the controller's words, as <c>fault 17</c>.</summary>
    public IReadOnlyDictionary<string, StopMeaning> Meanings { get; init; } = new Dictionary<string, StopMeaning>();
}

/// <summary>All that is known of one saw over some shifts.</summary>
public sealed record OeeInput
{
    /// <summary>Name of the saw.</summary>
    public required string Saw { get; init; }

    /// <summary>The calendar.</summary>
    public required ShiftCalendar Calendar { get; init; }

    /// <summary>
    /// The period that is accounted for: whole shifts, as <see cref="ShiftCalendar.Widen"/> gives them, so that a stop or a cut weighs the same
    /// whatever part of the shift is asked for.
    /// </summary>
    public required Period Period { get; init; }

    /// <summary>What the saw did, in any order: all segments that touch the period or one of the cuts.</summary>
    public IReadOnlyList<StateSegment> States { get; init; } = [];

    /// <summary>The cycles that touch the period, in any order; where one comes twice the later in the list holds.</summary>
    public IReadOnlyList<CycleRecord> Cuts { get; init; } = [];

    /// <summary>What people said about stops.</summary>
    public IReadOnlyList<StopReason> StopReasons { get; init; } = [];

    /// <summary>Parts that are not good.</summary>
    public IReadOnlyList<ScrapEntry> Scrap { get; init; } = [];

    /// <summary>
    /// Whether clamping and feeding lie between the cycles, as where no cycle bit is mapped and a cycle is what the head does: then the time
    /// before a cut counts as handling as far as the standard has handling left.
    /// </summary>
    public bool HandlingBetweenCycles { get; init; }

    /// <summary>Begin of the cycle that is still open; null: none is. Its time has no standard yet and counts as what it takes.</summary>
    public DateTimeOffset? OpenCycleFrom { get; init; }

    /// <summary>How time is told apart.</summary>
    public OeeSettings Settings { get; init; } = new();
}
