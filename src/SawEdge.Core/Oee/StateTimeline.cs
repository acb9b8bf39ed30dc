namespace SawEdge.Core.Oee;

/// <summary>
/// What a saw did over a period, without a gap and without an overlap: what no segment tells is unknown, of segments that overlap
/// (a machine's clock was set back) the one that began first holds, and what says the same is one. Immutable.
/// </summary>
public sealed class StateTimeline
{
    private readonly StateSegment[] _segments;

    private StateTimeline(Period period, StateSegment[] segments)
    {
        Period = period;
        _segments = segments;
    }

    /// <summary>The period it covers.</summary>
    public Period Period { get; }

    /// <summary>The segments, in order: the first begins and the last ends with the period, and each begins where the one before ends.</summary>
    public IReadOnlyList<StateSegment> Segments => _segments;

    /// <summary>Puts segments in order.</summary>
    /// <param name="period">The period to cover.</param>
    /// <param name="segments">Segments of one saw, in any order; what lies outside the period is cut off.</param>
    public static StateTimeline Of(Period period, IEnumerable<StateSegment> segments)
    {
        var line = new List<StateSegment>();
        var at = period.From;
        foreach (var segment in segments.Where(segment => segment.State != TimelineState.Unknown && segment.To > period.From && segment.From < period.To).OrderBy(segment => segment.From).ThenBy(segment => segment.To))
        {
            var from = segment.From > at ? segment.From : at;
            var to = segment.To < period.To ? segment.To : period.To;
            if (to <= from)
                continue;
            if (from > at)
                line.Add(new StateSegment(at, from, TimelineState.Unknown));
            Append(line, segment with { From = from.ToUniversalTime(), To = to.ToUniversalTime() });
            at = to;
        }

        if (at < period.To)
            line.Add(new StateSegment(at, period.To, TimelineState.Unknown));
        return new StateTimeline(period, [.. line]);
    }

    /// <summary>What the saw did at a moment; unknown outside the period.</summary>
    public StateSegment At(DateTimeOffset at)
    {
        var (low, high) = (0, _segments.Length);
        while (low < high)
        {
            var middle = (low + high) / 2;
            if (_segments[middle].To <= at)
                low = middle + 1;
            else
                high = middle;
        }

        return low < _segments.Length && _segments[low].From <= at ? _segments[low] : new StateSegment(at, at, TimelineState.Unknown);
    }

    /// <summary>How long the saw was in a state.</summary>
    public TimeSpan TimeIn(TimelineState state) => _segments.Where(segment => segment.State == state).Aggregate(TimeSpan.Zero, (sum, segment) => sum + segment.Duration);

    private static void Append(List<StateSegment> line, StateSegment segment)
    {
        if (line.Count > 0 && line[^1].To == segment.From && line[^1].IsLike(segment))
            line[^1] = line[^1] with { To = segment.To };
        else
            line.Add(segment);
    }
}
