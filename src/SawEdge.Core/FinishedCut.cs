using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;

namespace SawEdge.Core;

/// <summary>A finished cycle: its record, what it was computed from, and what the load score says of it.</summary>
/// <param name="Record">The record.</param>
/// <param name="Evidence">What the record was computed from: the same evidence gives the same record again.</param>
/// <param name="Assessment">What the load score says.</param>
public sealed record FinishedCut(CycleRecord Record, CutEvidence Evidence, LoadAssessment Assessment)
{
    /// <summary>Whether it was handed out before and comes again, with a corrected record of the same identity.</summary>
    public bool IsCorrection { get; init; }

    /// <summary>The profile along the depth; null where the cut's ends were not both seen.</summary>
    public DepthProfile? Profile => Evidence.Cut.Profile;

    /// <summary>The same with a start that is later by a millisecond, and with the identity that follows from it: where another cycle has this one already.</summary>
    public FinishedCut Later()
    {
        var started = Record.StartedAt.AddMilliseconds(1);
        return this with
        {
            Record = Record with { StartedAt = started, CycleId = CutRecorder.IdOf(Record.Saw, started) },
            Evidence = Evidence with { Cut = Evidence.Cut with { StartedAt = Evidence.Cut.StartedAt.AddMilliseconds(1) } },
        };
    }
}

/// <summary>All that a record is computed from, besides what the saw has learned before it: what the history keeps so that records can be computed anew.</summary>
/// <param name="Cut">The cycle as the frames show it; its profile included.</param>
/// <param name="Job">The job as it was in the job list then; null where it was in none.</param>
/// <param name="Findings">What the live watch found.</param>
public sealed record CutEvidence(Cut Cut, CutJob? Job, IReadOnlyList<LiveFinding> Findings);
