namespace SawEdge.Core.Oee;

/// <summary>
/// Lays the cycles over the state timeline: every moment becomes work on a cut, executing without one, a stop or unknown.
/// </summary>
internal sealed class AccountLine
{
    /// <summary>
    /// How long a saw may seem to stand at the ends of a cycle that was found later from the whole trace: the frames that it takes
    /// to be sure that a head goes down or is up. Common practice, no source.
    /// </summary>
    private const long LagTicks = 10 * TimeSpan.TicksPerSecond;

    private readonly List<TimeSlice> _slices = [];
    private readonly IReadOnlyList<StateSegment> _segments;
    private readonly IReadOnlyList<AccountCut> _cuts;
    private readonly long _openFrom;
    private int _at;

    public AccountLine(StateTimeline timeline, IReadOnlyList<AccountCut> cuts, OeeInput input)
    {
        _segments = timeline.Segments;
        _cuts = cuts;
        _openFrom = input.OpenCycleFrom?.UtcTicks ?? long.MaxValue;
        var at = timeline.Period.From.UtcTicks;
        for (var i = 0; i < cuts.Count; i++)
        {
            Measure(cuts[i]);
            if (input.HandlingBetweenCycles)
                ReachBack(cuts[i], at);
            Between(at, cuts[i].HandlingFrom);
            Inside(i);
            at = cuts[i].To;
        }

        Between(at, timeline.Period.To.UtcTicks);
    }

    /// <summary>The slices, in order and without a gap; of stops <see cref="TimeSlice.Ref"/> is the segment.</summary>
    public IReadOnlyList<TimeSlice> Slices => _slices;

    // How much of a cycle was work is known before its standard can be spread over it.
    private void Measure(AccountCut cut)
    {
        foreach (var (from, to, kind) in Pieces(cut))
        {
            if (kind is SliceKind.Work or SliceKind.Unknown)
                cut.ShareAt(from).Work += to - from;
        }
    }

    // Clamping and feeding came before the cycle: as far as the standard has handling left, and the saw stood without a fault.
    private void ReachBack(AccountCut cut, long notBefore)
    {
        var left = cut.Worth == CutWorth.Standard ? (cut.Handling.Standard ?? 0) - cut.Handling.Work : 0;
        var from = cut.From;
        for (var i = IndexAt(cut.From - 1); left > 0 && i >= 0 && _segments[i].State == TimelineState.NotExecuting && _segments[i].To.UtcTicks >= from && from > notBefore; i--)
        {
            var reach = Math.Min(left, from - Math.Max(_segments[i].From.UtcTicks, notBefore));
            from -= reach;
            left -= reach;
        }

        cut.HandlingFrom = from;
        cut.Handling.Work += cut.From - from;
    }

    private void Between(long from, long to)
    {
        foreach (var (segment, begin, end) in Segments(from, to))
        {
            switch (_segments[segment].State)
            {
                case TimelineState.Unknown:
                    Add(new TimeSlice(begin, end, SliceKind.Unknown));
                    break;
                case TimelineState.Executing:
                    var open = Math.Clamp(_openFrom, begin, end);
                    Add(new TimeSlice(begin, open, SliceKind.Loose));
                    Add(new TimeSlice(open, end, SliceKind.Open));
                    break;
                default:
                    Add(new TimeSlice(begin, end, SliceKind.Stop, segment));
                    break;
            }
        }
    }

    private void Inside(int index)
    {
        var cut = _cuts[index];
        var (cutting, handling) = (0L, cut.From - cut.HandlingFrom);
        Add(new TimeSlice(cut.HandlingFrom, cut.From, SliceKind.Work, index));
        foreach (var (from, to, kind, segment) in PiecesOf(cut))
        {
            var isCutting = cut.ShareAt(from) == cut.Cutting;
            ref var before = ref (isCutting ? ref cutting : ref handling);
            Add(kind switch
            {
                SliceKind.Work => new TimeSlice(from, to, kind, index, isCutting, before),
                SliceKind.Stop => new TimeSlice(from, to, kind, segment),
                _ => new TimeSlice(from, to, kind),
            });
            if (kind != SliceKind.Stop)
                before += to - from;
        }
    }

    private IEnumerable<(long From, long To, SliceKind Kind)> Pieces(AccountCut cut) => PiecesOf(cut).Select(piece => (piece.From, piece.To, piece.Kind));

    // The cycle along its states, parted at the ends of the cut.
    private IEnumerable<(long From, long To, SliceKind Kind, int Segment)> PiecesOf(AccountCut cut)
    {
        foreach (var (segment, from, to) in Segments(cut.From, cut.To))
        {
            var kind = KindInCycle(_segments[segment], cut, to - from);
            var at = from;
            if (cut.CutFrom > at && cut.CutFrom < to)
            {
                yield return (at, cut.CutFrom, kind, segment);
                at = cut.CutFrom;
            }

            if (cut.CutTo > at && cut.CutTo < to)
            {
                yield return (at, cut.CutTo, kind, segment);
                at = cut.CutTo;
            }

            yield return (at, to, kind, segment);
        }
    }

    private static SliceKind KindInCycle(StateSegment segment, AccountCut cut, long length)
    {
        if (segment.State is TimelineState.Unknown)
            return SliceKind.Unknown;
        if (segment.State is TimelineState.Executing)
            return SliceKind.Work;
        var (begins, ends) = (segment.From.UtcTicks <= cut.From, segment.To.UtcTicks >= cut.To);
        return segment.State == TimelineState.NotExecuting && ((begins && ends) || ((begins || ends) && length <= LagTicks)) ? SliceKind.Work : SliceKind.Stop;
    }

    private IEnumerable<(int Segment, long From, long To)> Segments(long from, long to)
    {
        for (var i = IndexAt(from); i >= 0 && i < _segments.Count && _segments[i].From.UtcTicks < to; i++)
        {
            var (begin, end) = (Math.Max(from, _segments[i].From.UtcTicks), Math.Min(to, _segments[i].To.UtcTicks));
            if (end > begin)
                yield return (i, begin, end);
        }
    }

    // Cycles come in order, so the segment is near the last one.
    private int IndexAt(long ticks)
    {
        while (_at > 0 && _segments[_at].From.UtcTicks > ticks)
            _at--;
        while (_at < _segments.Count - 1 && _segments[_at].To.UtcTicks <= ticks)
            _at++;
        return _segments.Count == 0 ? -1 : _at;
    }

    private void Add(TimeSlice slice)
    {
        if (slice.To > slice.From)
            _slices.Add(slice);
    }
}
