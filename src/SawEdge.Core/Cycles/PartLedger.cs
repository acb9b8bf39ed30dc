namespace SawEdge.Core.Cycles;

/// <summary>
/// Sets what the part counter counted against the cycles that are recorded, over times in which nobody saw the saw: what is over was made
/// unseen. It is drawn up where nothing is on its way: a cycle begins, or none does and the counter has had its time. So no cycle has to be told
/// from another to know how many are missing.
/// </summary>
internal sealed class PartLedger
{
    private long _counted;
    private long _recorded;
    private bool _fell;
    private DateTimeOffset? _from;
    private DateTimeOffset? _to;

    /// <summary>Whether there is something to be drawn up: nobody looked for a while, and the counter was read since.</summary>
    public bool IsDue => _to is not null;

    /// <summary>Nobody looked since then; frames come again.</summary>
    public void Away(DateTimeOffset from)
    {
        _from ??= from;
        _to = null;
    }

    /// <summary>Takes what a reading of the counter added.</summary>
    /// <param name="rise">How many parts more than at the reading before; null where the counter fell.</param>
    /// <param name="at">Time of the reading.</param>
    public void Count(long? rise, DateTimeOffset at)
    {
        _counted += rise ?? 0;
        if (_from is null || _to is not null)
            return;
        _fell |= rise is null;
        _to = at;
    }

    /// <summary>Takes a record of a cycle that made a part.</summary>
    public void Record() => _recorded++;

    /// <summary>Draws up the account and begins another.</summary>
    /// <param name="ofOpenCycle">How many parts the counter has counted for a cycle that has no record yet.</param>
    /// <returns>What was made unseen; null where nothing was, or nobody can tell.</returns>
    public UnseenParts? Settle(long ofOpenCycle = 0)
    {
        var unseen = Math.Max(0, _counted - ofOpenCycle - _recorded);
        var found = _from is { } from && _to is { } to && (unseen > 0 || _fell) ? new UnseenParts(unseen, !_fell, from, to) : null;
        (_counted, _recorded, _fell, _from, _to) = (ofOpenCycle, 0, false, null, null);
        return found;
    }

    /// <summary>What must survive a restart.</summary>
    public PartLedgerMemory Save() => new(_counted, _recorded, _fell, _from, _to);

    /// <summary>Continues from what <see cref="Save"/> gave.</summary>
    public void Restore(PartLedgerMemory memory) => (_counted, _recorded, _fell, _from, _to) = (memory.Counted, memory.Recorded, memory.Fell, memory.From, memory.To);
}

/// <summary>An account of parts that is not drawn up yet.</summary>
/// <param name="Counted">Parts that the controller counted since the last was.</param>
/// <param name="Recorded">Records of cycles that made a part since then.</param>
/// <param name="Fell">Whether the counter fell while nobody looked.</param>
/// <param name="From">Since when nobody had looked, the first time; null: somebody looked all the time.</param>
/// <param name="To">When the counter was read again, the last time; null: not yet.</param>
public sealed record PartLedgerMemory(long Counted = 0, long Recorded = 0, bool Fell = false, DateTimeOffset? From = null, DateTimeOffset? To = null);
