namespace SawEdge.Core.Cycles;

/// <summary>
/// Which cycles of a saw belong to another who watches it in turns with this one, so that none is recorded by both: those that were under way when
/// this one began, because the other may have seen their start, and those that begin once this one has given the saw away.
/// </summary>
/// <param name="tookOverAt">Time of the first frame.</param>
/// <param name="tolerance">
/// How long after that the start of a cycle that was under way may be found: time between two frames where a cycle bit tells it; longer where
/// the head alone does, because a slow head has gone a little way before it is seen to go.
/// </param>
public sealed class HandOver(DateTimeOffset tookOverAt, TimeSpan tolerance)
{
    // An edge that is interpolated across the gap before the first frame lies before it, and so little before that no cycle of an earlier run can.
    private static readonly TimeSpan Interpolated = TimeSpan.FromSeconds(1);

    /// <summary>Tolerance where the head alone tells where a cycle begins: half a millimetre at 2 mm/min.</summary>
    public static TimeSpan WithoutCycleBit { get; } = TimeSpan.FromSeconds(15);

    /// <summary>Time of the last frame before the saw was given away; null: it was not. Only set, by the one who takes the frames.</summary>
    public DateTimeOffset? GivenAwayAt { get; set; }

    /// <summary>Whether a cycle belongs to the other.</summary>
    /// <param name="start">Where it begins.</param>
    public bool IsOthers(DateTimeOffset start) => (start >= tookOverAt - Interpolated && start <= tookOverAt + tolerance) || start > GivenAwayAt;

    /// <summary>Whether the other saw the parts that were counted in a time without frames.</summary>
    /// <param name="unseen">The parts.</param>
    public bool WereSeenByOther(UnseenParts unseen)
    {
        ArgumentNullException.ThrowIfNull(unseen);
        return unseen.From < tookOverAt;
    }
}
