using SawEdge.Core;
using SawEdge.Core.Blades;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;

namespace SawEdge.Gateway.History;

/// <summary>What a saw's processing carries across a restart, as bytes that only processing understands.</summary>
/// <param name="Version">Version of the bytes' format.</param>
/// <param name="Data">The bytes.</param>
public readonly record struct SawState(int Version, ReadOnlyMemory<byte> Data);

/// <summary>A finished cycle and everything that must be stored in the same moment as it.</summary>
public sealed record FinishedCycle
{
    /// <summary>The record.</summary>
    public required CycleRecord Record { get; init; }

    /// <summary>Its profile along the depth, or null where there is none.</summary>
    public DepthProfile? Profile { get; init; }

    /// <summary>What the record was computed from; null where it is not known.</summary>
    public CutEvidence? Evidence { get; init; }

    /// <summary>The blade that the configuration named then, which the evidence is incomplete without; or empty.</summary>
    public string ConfiguredBlade { get; init; } = "";

    /// <summary>What the load score says of it; null where nothing.</summary>
    public LoadAssessment? Assessment { get; init; }

    /// <summary>What the saw had learned after this cycle, where records shall be computed anew from here; null: no such place.</summary>
    public StoredCheckpoint? Checkpoint { get; init; }

    /// <summary>The saw's state after this cycle, or null to leave what is stored.</summary>
    public SawState? SawState { get; init; }

    /// <summary>Frames that already belong to the saw's next cycle; they replace the open frames, which end with this cycle.</summary>
    public ReadOnlyMemory<byte>? OpenFrames { get; init; }
}

/// <summary>What was stored of a saw when its processing last ended.</summary>
/// <param name="State">Its state, or null where none was stored yet.</param>
/// <param name="OpenFrames">The frames of the cycle that was open, in order of their parts.</param>
public sealed record SavedSaw(SawState? State, IReadOnlyList<byte[]> OpenFrames);

/// <summary>Which cycles.</summary>
public sealed record CycleFilter
{
    /// <summary>Every cycle.</summary>
    public static CycleFilter All { get; } = new();

    /// <summary>Only these saws, or null for all.</summary>
    public IReadOnlyCollection<string>? Saws { get; init; }

    /// <summary>Only cycles started at this moment or later.</summary>
    public DateTimeOffset? From { get; init; }

    /// <summary>Only cycles started before this moment.</summary>
    public DateTimeOffset? To { get; init; }

    /// <summary>Only cycles with one of these outcomes, or null for all.</summary>
    public IReadOnlyCollection<CutOutcome>? Outcomes { get; init; }

    /// <summary>Only cycles with these identities, or null for all. The time leads to them, so state one.</summary>
    public IReadOnlyCollection<string>? Ids { get; init; }

    /// <summary>Only cycles of these jobs, or null for all.</summary>
    public IReadOnlyCollection<string>? Jobs { get; init; }

    /// <summary>Only cycles of these materials, or null for all.</summary>
    public IReadOnlyCollection<string>? Materials { get; init; }

    /// <summary>Only cycles with these blades, or null for all.</summary>
    public IReadOnlyCollection<string>? Blades { get; init; }

    /// <summary>Only cycles with this load score or a greater one, or null for all.</summary>
    public double? LeastScore { get; init; }

    /// <summary>Only cycles with this load score or a smaller one, or null for all.</summary>
    public double? GreatestScore { get; init; }
}

/// <summary>A place in the order of cycles: by start, then saw, then row.</summary>
/// <param name="StartedAt">Start of the cycle there.</param>
/// <param name="Saw">Its saw.</param>
/// <param name="Id">Its row.</param>
public readonly record struct CyclePlace(DateTimeOffset StartedAt, string Saw, long Id);

/// <summary>A place in the order in which cycles are exported: by start, then saw, then identity, which a replay gives again.</summary>
/// <param name="StartedAt">Start of the cycle there, ms since 1970.</param>
/// <param name="Saw">Its saw.</param>
/// <param name="CycleId">Its identity.</param>
internal readonly record struct CycleKey(long StartedAt, string Saw, string CycleId);

/// <summary>The kinds of rows that the journal names.</summary>
public static class JournalKinds
{
    /// <summary>A new or corrected cycle.</summary>
    public const string Cycle = "cycle";

    /// <summary>Something that happened to an alarm.</summary>
    public const string AlarmEvent = "alarm_event";

    /// <summary>A message that is to go out.</summary>
    public const string Notice = "notice";
}

/// <summary>One entry of the journal with the row it names, as that row is now.</summary>
/// <param name="Sequence">Its number; rises, is never given twice.</param>
/// <param name="Kind">Which table, see <see cref="JournalKinds"/>; kinds that a consumer does not know are passed over.</param>
/// <param name="Saw">The saw it concerns; of alarms about something else its name.</param>
/// <param name="At">When it was written, by the gateway's clock.</param>
/// <param name="Cycle">The cycle, or null where the kind is another or the row is gone.</param>
public sealed record JournalEntry(long Sequence, string Kind, string Saw, DateTimeOffset At, CycleRecord? Cycle)
{
    /// <summary>What happened to an alarm, or null where the kind is another or the row is gone.</summary>
    public StoredAlarmEvent? AlarmEvent { get; init; }

    /// <summary>The message, or null where the kind is another or the row is gone.</summary>
    public StoredNotice? Notice { get; init; }
}

/// <summary>Something that a consumer's server refused for good.</summary>
/// <param name="Sequence">Its number: in the journal, or as the consumer counts (<see cref="Lanes"/>).</param>
/// <param name="Reason">The server's words.</param>
public sealed record Refusal(long Sequence, string Reason);

/// <summary>A refusal as it is stored.</summary>
/// <param name="Sequence">Its number: in the journal, or as the consumer counts (<see cref="Lanes"/>).</param>
/// <param name="Reason">The server's words.</param>
/// <param name="At">When it was refused.</param>
/// <param name="CycleId">The cycle it concerns, or null where it is about something else or that is gone.</param>
public sealed record StoredRefusal(long Sequence, string Reason, DateTimeOffset At, string? CycleId)
{
    /// <summary>What happened to an alarm, where that was refused.</summary>
    public StoredAlarmEvent? AlarmEvent { get; init; }

    /// <summary>The message, where one was refused.</summary>
    public StoredNotice? Notice { get; init; }

    /// <summary>The consumer that set it aside: the one that was asked for, or a lane of it.</summary>
    public string Consumer { get; init; } = "";

    /// <summary>The saw whose hour or interval it concerns; null where it is something else.</summary>
    public string? Saw { get; init; }

    /// <summary>When the hour or the interval began, or the gateway reported its health; null where it is something else.</summary>
    public DateTimeOffset? From { get; init; }
}

/// <summary>A cut and what the load score says of it.</summary>
/// <param name="Record">The record.</param>
/// <param name="Assessment">What the load score says; null where nothing is stored.</param>
public sealed record AssessedCut(CycleRecord Record, LoadAssessment? Assessment);

/// <summary>What a stored record was computed from.</summary>
/// <param name="Record">The record as it is stored.</param>
/// <param name="Cut">The cycle as the frames showed it, with its profile.</param>
/// <param name="Job">The texts of its job's row in the job list; null where it was in none.</param>
/// <param name="Findings">What the live watch found.</param>
/// <param name="ConfiguredBlade">The blade that the configuration named then, or empty.</param>
public sealed record StoredEvidence(CycleRecord Record, Cut Cut, IReadOnlyDictionary<string, string>? Job, IReadOnlyList<LiveFinding> Findings, string ConfiguredBlade);

/// <summary>What a saw had learned from its cycles up to a moment.</summary>
/// <param name="At">Cycles that started after this moment were not learned from yet.</param>
/// <param name="State">What it had learned.</param>
public sealed record StoredCheckpoint(DateTimeOffset At, SawState State);

/// <summary>What people said about the blades of one saw.</summary>
/// <param name="Book">The entries that hold.</param>
/// <param name="Last">Number of the latest entry or withdrawal; 0 where there is none. It rises with each.</param>
public sealed record StoredBladeEntries(BladeBook Book, long Last);
