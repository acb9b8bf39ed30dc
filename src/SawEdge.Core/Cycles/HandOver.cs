namespace SawEdge.Core.Cycles;

/// <summary>
/// Which cycles of a saw belong to another who watches it in turns with this one, so that none is recorded by both: those that were under way when
/// this one began, because the other may have seen their start, and those that begin once this one has given the saw away.
/// </summary>
/// <param name="tookOverAt">Time of the first frame.</param>
/// <param name="interval">Time between two frames.</param>
public sealed class HandOver(DateTimeOffset tookOverAt, TimeSpan interval)
{
    // An edge that is interpolated across the gap before the first frame lies before it, and so little before that no cycle of an earlier run can.
    private static readonly TimeSpan Interpolated = TimeSpan.FromSeconds(1);

    private bool _isFirst = true;

    /// <summary>Time of the last frame before the saw was given away; null: it was not. Only set, by the one who takes the frames.</summary>
    public DateTimeOffset? GivenAwayAt { get; set; }

    /// <summary>Whether a cycle that is open belongs to the other, as far as its start tells.</summary>
    /// <param name="start">Where it begins.</param>
    public bool IsOthers(DateTimeOffset start) => WasUnderWay(start) || start > GivenAwayAt;

    /// <summary>Whether a finished cycle belongs to the other; to be asked once for each cycle, in their order.</summary>
    /// <param name="cut">The cycle.</param>
    public bool IsOthers(Cut cut)
    {
        if (IsOthers(cut.StartedAt))
            return true;

        // What an earlier run left open ends here, and is its own.
        if (cut.StartedAt < tookOverAt - Interpolated)
            return false;

        // Without a cycle bit a head in the stock goes down as slowly as before a contact: the first cut of which no contact was seen had it before.
        var first = _isFirst;
        _isFirst = false;
        return first && cut.CutStartedAt is null;
    }

    /// <summary>Whether the other saw the parts that were counted in a time without frames.</summary>
    /// <param name="unseen">The parts.</param>
    public bool WereSeenByOther(UnseenParts unseen)
    {
        ArgumentNullException.ThrowIfNull(unseen);
        return unseen.From < tookOverAt;
    }

    private bool WasUnderWay(DateTimeOffset start) => start >= tookOverAt - Interpolated && start <= tookOverAt + interval;
}
