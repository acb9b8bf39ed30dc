namespace SawEdge.Core.Oee;

/// <summary>What a stop is booked as.</summary>
internal readonly record struct AccountStop(StopClass Class, string Reason, bool IsShort);

/// <summary>Cuts the line of time to planned busy time and gives each stop its reason: a person's, else the controller's as the plant's rules read it.</summary>
internal sealed class StopBook
{
    private readonly OeeInput _input;
    private readonly StateTimeline _timeline;
    private readonly List<AccountStop> _stops;
    private readonly Dictionary<AccountStop, int> _numbers = [];
    private readonly StopReason[] _reasons;
    private readonly List<TimeSlice> _run = [];

    public StopBook(OeeInput input, StateTimeline timeline, List<AccountStop> stops)
    {
        _input = input;
        _timeline = timeline;
        _stops = stops;
        _reasons = [.. input.StopReasons.OrderBy(reason => reason.EnteredAt)];
    }

    /// <summary>The slices of planned busy time; of stops <see cref="TimeSlice.Ref"/> is the place in the list of stops.</summary>
    public List<TimeSlice> Slice(IReadOnlyList<TimeSlice> line, IReadOnlyList<PlannedPiece> pieces)
    {
        var slices = new List<TimeSlice>(line.Count);
        var at = 0;
        foreach (var piece in pieces)
        {
            var (from, to) = (piece.Time.From.UtcTicks, piece.Time.To.UtcTicks);
            while (at < line.Count && line[at].To <= from)
                at++;
            for (var i = at; i < line.Count && line[i].From < to; i++)
            {
                var begin = Math.Max(from, line[i].From);
                var slice = line[i] with { From = begin, To = Math.Min(to, line[i].To), Before = line[i].Before + begin - line[i].From };
                if (slice.Kind == SliceKind.Stop)
                {
                    _run.Add(slice);
                    continue;
                }

                EndRun(slices);
                slices.Add(slice);
            }

            EndRun(slices);
        }

        return slices;
    }

    // A stop is all the time that a saw stands without a break within one stretch of planned time, whatever the reasons on the way.
    private void EndRun(List<TimeSlice> slices)
    {
        if (_run.Count == 0)
            return;
        var isShort = _run[^1].To - _run[0].From <= _input.Settings.ShortStop.Ticks;
        foreach (var slice in _run)
            Explain(slices, slice, isShort);
        _run.Clear();
    }

    private void Explain(List<TimeSlice> slices, TimeSlice slice, bool isShort)
    {
        var known = OfController(_timeline.Segments[slice.Ref]);
        var at = slice.From;
        while (at < slice.To)
        {
            var (reason, to) = ReasonAt(at, slice.To);
            var stop = reason is null ? new AccountStop(known.Class, known.Reason, isShort && known.Class != StopClass.Setup) : new AccountStop(reason.Class, reason.Reason, false);
            slices.Add(slice with { From = at, To = to, Ref = NumberOf(stop), Before = 0 });
            at = to;
        }
    }

    // The entry that holds at a moment, and until when that stays so.
    private (StopReason? Reason, long To) ReasonAt(long at, long end)
    {
        StopReason? holds = null;
        foreach (var reason in _reasons)
        {
            var (from, to) = (reason.Time.From.UtcTicks, reason.Time.To.UtcTicks);
            if (from <= at && to > at)
            {
                holds = reason;
                end = Math.Min(end, to);
            }
            else if (from > at)
            {
                end = Math.Min(end, from);
            }
        }

        return (holds, end);
    }

    private StopMeaning OfController(StateSegment segment)
    {
        var own = segment.State switch
        {
            TimelineState.NotExecuting when segment.Job.Length > 0 => new StopMeaning(StopWords.IdleWithJob, StopClass.Delay),
            TimelineState.NotExecuting => new StopMeaning(StopWords.IdleWithoutJob, StopClass.Down),
            _ => new StopMeaning(segment.Reason, StopClass.Down),
        };
        return _input.Settings.Meanings.GetValueOrDefault(own.Reason, own);
    }

    private int NumberOf(AccountStop stop)
    {
        if (_numbers.TryGetValue(stop, out var number))
            return number;
        _stops.Add(stop);
        return _numbers[stop] = _stops.Count - 1;
    }
}

/// <summary>The words for stops that nobody explained.</summary>
public static class StopWords
{
    /// <summary>The saw stands and could run, with a job at the controller.</summary>
    public const string IdleWithJob = "idle with a job";

    /// <summary>The saw stands and could run, and its controller tells no job: there is none, or no job is mapped.</summary>
    public const string IdleWithoutJob = "idle without a job";
}
