using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.History;

/// <summary>All that one step of the alarms stores, in one transaction.</summary>
public sealed record AlarmBatch
{
    /// <summary>What happened, in order; each brings its occurrence as it is after it.</summary>
    public IReadOnlyList<AlarmEvent> Events { get; init; } = [];

    /// <summary>Messages that are to go out.</summary>
    public IReadOnlyList<Notice> Notices { get; init; } = [];

    /// <summary>What the alarms must remember over a restart; null: as it is stored.</summary>
    public AlarmMemory? Memory { get; init; }

    /// <summary>What became of answers that people gave from outside.</summary>
    public IReadOnlyList<AnswerOutcome> Answered { get; init; } = [];
}

/// <summary>What the alarms remember over a restart.</summary>
/// <param name="Board">Saved by the board.</param>
/// <param name="Plan">Saved by the plan of messages.</param>
public sealed record AlarmMemory(string Board, string Plan);

/// <summary>What became of an answer.</summary>
/// <param name="Id">The answer.</param>
/// <param name="Problem">Null where it was done; otherwise why not.</param>
public sealed record AnswerOutcome(long Id, string? Problem);

/// <summary>An answer that a person gave from outside of the gateway's process.</summary>
/// <param name="Id">Its number; rises.</param>
/// <param name="Answer">What was said.</param>
/// <param name="At">When.</param>
/// <param name="Via">How it came: <c>command</c>, <c>link</c> or <c>api</c>.</param>
public sealed record StoredAnswer(long Id, AlarmAnswer Answer, DateTimeOffset At, string Via);

/// <summary>An event as it is stored.</summary>
/// <param name="Id">Its number; rises.</param>
/// <param name="Event">The event; its occurrence as it was right after it.</param>
public sealed record StoredAlarmEvent(long Id, AlarmEvent Event);

/// <summary>A message as it is stored.</summary>
/// <param name="Id">Its number; rises.</param>
/// <param name="Notice">The message.</param>
public sealed record StoredNotice(long Id, Notice Notice);

/// <summary>Which occurrences.</summary>
public sealed record AlarmFilter
{
    /// <summary>Only those that are not closed.</summary>
    public bool OnlyOpen { get; init; }

    /// <summary>Only those about this subject, by name; null: all.</summary>
    public string? Subject { get; init; }

    /// <summary>Only those of this rule; null: all.</summary>
    public string? Rule { get; init; }

    /// <summary>Only those raised at this moment or later.</summary>
    public DateTimeOffset? From { get; init; }

    /// <summary>Only those raised before this moment.</summary>
    public DateTimeOffset? To { get; init; }
}
