namespace SawEdge.Core.Oee;

/// <summary>
/// The account of one saw's time over some shifts. Every moment of planned busy time is put where it belongs once; any period can then
/// be asked for, and the answers for parts of a period sum to that for the whole, to the tick. What a cut earns is its own standard
/// cycle time, spread evenly over its work: a cut that runs into a break or another hour earns its share in each. Immutable; not
/// thread safe.
/// </summary>
public sealed class OeeAccount
{
    private readonly OeeInput _input;
    private readonly AccountCut[] _cuts;
    private readonly TimeSlice[] _slices;
    private readonly List<AccountStop> _stops = [];

    /// <summary>Makes the account.</summary>
    /// <param name="input">What is known.</param>
    /// <exception cref="ArgumentException">The period begins or ends within a shift.</exception>
    public OeeAccount(OeeInput input)
    {
        if (input.Calendar.Widen(input.Period) != input.Period)
            throw new ArgumentException("The period begins or ends within a shift; widen it to whole shifts.", nameof(input));
        _input = input;
        _cuts = CutsOf(input.Cuts);
        UnassignedScrap = ScrapBook.Assign(input, _cuts);

        var (from, to) = (input.Period.From.UtcTicks, input.Period.To.UtcTicks);
        foreach (var cut in _cuts)
            (from, to) = (Math.Min(from, cut.From), Math.Max(to, cut.To));

        // Handling before the first cycle lies where the time before the period is, and must not end with it.
        if (input.States.Count > 0)
            from = Math.Min(from, input.States.Min(segment => segment.From.UtcTicks));
        var timeline = StateTimeline.Of(Period.OfTicks(from, to), input.States);
        var line = new AccountLine(timeline, _cuts, input);
        var pieces = input.Calendar.Planned(input.Period, input.Saw);
        _slices = [.. new StopBook(input, timeline, _stops).Slice(line.Slices, pieces)];
        MarkEnds(pieces);
    }

    /// <summary>Scrap that belongs to no part in this account: the cut it names is no part, or fewer parts were made than it says.</summary>
    public IReadOnlyList<ScrapEntry> UnassignedScrap { get; }

    /// <summary>The parts that are not good, by their cycle's identity.</summary>
    public IReadOnlySet<string> ScrapCycles => _cuts.Where(cut => cut.IsScrap).Select(cut => cut.Id).ToHashSet(StringComparer.Ordinal);

    /// <summary>The period that is accounted for.</summary>
    public Period Period => _input.Period;

    /// <summary>Where the planned busy time of a period went.</summary>
    /// <param name="period">A period within <see cref="Period"/>. Time after the last frame is unknown: ask up to now.</param>
    /// <exception cref="ArgumentOutOfRangeException">It is not within it.</exception>
    public OeeBuckets Buckets(Period period)
    {
        Check(period);
        var buckets = new OeeBuckets { PlannedBusyTime = _input.Calendar.PlannedTime(period, _input.Saw) };
        foreach (var (slice, from, to) in SlicesIn(period))
            Book(buckets, slice, from, to);
        Count(buckets, period);
        return buckets;
    }

    /// <summary>The planned busy time of a period stretch by stretch, in order: what each was.</summary>
    /// <inheritdoc cref="Buckets(Period)"/>
    public IReadOnlyList<AccountStretch> Stretches(Period period)
    {
        Check(period);
        var stretches = new List<AccountStretch>();
        foreach (var (slice, from, to) in SlicesIn(period))
        {
            var next = StretchOf(slice, Period.OfTicks(from, to));
            if (stretches.Count > 0 && stretches[^1].Time.To == next.Time.From && stretches[^1] with { Time = next.Time } == next)
                stretches[^1] = next with { Time = new Period(stretches[^1].Time.From, next.Time.To) };
            else
                stretches.Add(next);
        }

        return stretches;
    }

    /// <summary>What the formulas are made of, not by way of the buckets: the calendar, the time of production, and each cut's own standard.</summary>
    /// <inheritdoc cref="Buckets(Period)"/>
    public OeeElements Elements(Period period)
    {
        Check(period);
        long unknown = 0, production = 0, earned = 0, good = 0;
        foreach (var (slice, from, to) in SlicesIn(period))
        {
            if (slice.Kind == SliceKind.Unknown)
                unknown += to - from;
            if (slice.Kind is SliceKind.Loose or SliceKind.Open || (slice.Kind == SliceKind.Work && _cuts[slice.Ref].Worth != CutWorth.Setup))
                production += to - from;
            var run = slice.Kind == SliceKind.Open ? to - from : slice.Kind == SliceKind.Work ? EarnedIn(slice, from, to) : 0;
            earned += run;
            if (slice.Kind != SliceKind.Work || !_cuts[slice.Ref].IsScrap)
                good += run;
        }

        return new OeeElements(_input.Calendar.PlannedTime(period, _input.Saw), new TimeSpan(unknown), new TimeSpan(production), new TimeSpan(earned), new TimeSpan(good));
    }

    private static AccountCut[] CutsOf(IReadOnlyList<CycleRecord> records)
    {
        // A record that came again corrected takes the place of the one before; cycles never overlap, unless a machine's clock was set back.
        var cuts = new List<AccountCut>(records.Count);
        var end = long.MinValue;
        foreach (var record in records.GroupBy(record => record.CycleId).Select(same => same.Last()).OrderBy(record => record.StartedAt).ThenBy(record => record.EndedAt))
        {
            var cut = new AccountCut(record, end);
            cuts.Add(cut);
            end = cut.To;
        }

        return [.. cuts];
    }

    private void MarkEnds(IReadOnlyList<PlannedPiece> pieces)
    {
        var at = 0;
        foreach (var cut in _cuts)
        {
            while (at < pieces.Count && pieces[at].Time.To.UtcTicks <= cut.LastMoment)
                at++;
            cut.EndsInPlanned = at < pieces.Count && pieces[at].Time.From.UtcTicks <= cut.LastMoment;
        }
    }

    private void Check(Period period)
    {
        if (period.From < Period.From || period.To > Period.To)
            throw new ArgumentOutOfRangeException(nameof(period), $"The account covers {Period.From:u} to {Period.To:u}; {period.From:u} to {period.To:u} is not within it.");
    }

    private IEnumerable<(TimeSlice Slice, long From, long To)> SlicesIn(Period period)
    {
        var (from, to) = (period.From.UtcTicks, period.To.UtcTicks);
        var (low, high) = (0, _slices.Length);
        while (low < high)
        {
            var middle = (low + high) / 2;
            if (_slices[middle].To <= from)
                low = middle + 1;
            else
                high = middle;
        }

        for (var i = low; i < _slices.Length && _slices[i].From < to; i++)
            yield return (_slices[i], Math.Max(from, _slices[i].From), Math.Min(to, _slices[i].To));
    }

    private long EarnedIn(TimeSlice slice, long from, long to)
    {
        var cut = _cuts[slice.Ref];
        if (cut.Worth is CutWorth.Setup or CutWorth.Lost)
            return 0;
        return (slice.IsCutting ? cut.Cutting : cut.Handling).Earned(slice.Before + from - slice.From, slice.Before + to - slice.From);
    }

    private AccountStretch StretchOf(TimeSlice slice, Period time)
    {
        switch (slice.Kind)
        {
            case SliceKind.Work:
                var cut = _cuts[slice.Ref];
                var bucket = cut.Worth switch
                {
                    CutWorth.Setup => OeeBucket.Setup,
                    CutWorth.Lost => slice.IsCutting ? OeeBucket.SlowCutting : OeeBucket.SlowHandling,
                    _ when cut.IsScrap => OeeBucket.ScrapTime,
                    _ => slice.IsCutting ? OeeBucket.CuttingAtStandard : OeeBucket.Handling,
                };
                return new AccountStretch(time, bucket, cut.Id);
            case SliceKind.Open:
                return new AccountStretch(time, OeeBucket.CuttingAtStandard);
            case SliceKind.Loose:
                return new AccountStretch(time, OeeBucket.SlowHandling);
            case SliceKind.Stop:
                var stop = _stops[slice.Ref];
                return new AccountStretch(time, stop.Class == StopClass.Setup ? OeeBucket.Setup : stop.IsShort ? OeeBucket.ShortStops : OeeBucket.StopsByReason, null, stop.Class, stop.Reason);
            default:
                return new AccountStretch(time, OeeBucket.Unknown);
        }
    }

    private void Book(OeeBuckets buckets, TimeSlice slice, long from, long to)
    {
        var ticks = to - from;
        switch (slice.Kind)
        {
            case SliceKind.Work:
                BookWork(buckets, slice, from, to);
                break;
            case SliceKind.Open:
                buckets.Add(OeeBucket.CuttingAtStandard, ticks);
                buckets.Add(OeeBeside.WithoutStandard, ticks);
                break;
            case SliceKind.Loose:
                buckets.Add(OeeBucket.SlowHandling, ticks);
                buckets.Add(OeeBeside.Lost, ticks);
                break;
            case SliceKind.Stop:
                var stop = _stops[slice.Ref];
                buckets.AddStop(stop.Class, stop.Reason, stop.IsShort, ticks);
                break;
            default:
                buckets.Add(OeeBucket.Unknown, ticks);
                break;
        }
    }

    private void BookWork(OeeBuckets buckets, TimeSlice slice, long from, long to)
    {
        var cut = _cuts[slice.Ref];
        var slow = slice.IsCutting ? OeeBucket.SlowCutting : OeeBucket.SlowHandling;
        if (cut.Worth == CutWorth.Setup)
        {
            buckets.Add(OeeBucket.Setup, to - from);
            return;
        }

        if (cut.Worth == CutWorth.Lost)
        {
            buckets.Add(slow, to - from);
            buckets.Add(OeeBeside.Lost, to - from);
            return;
        }

        var share = slice.IsCutting ? cut.Cutting : cut.Handling;
        var (begin, end) = (slice.Before + from - slice.From, slice.Before + to - slice.From);
        var atStandard = share.AtStandard(begin, end);
        buckets.Add(cut.IsScrap ? OeeBucket.ScrapTime : slice.IsCutting ? OeeBucket.CuttingAtStandard : OeeBucket.Handling, atStandard);
        buckets.Add(slow, to - from - atStandard);
        buckets.Add(cut.IsScrap ? OeeBeside.ScrapGained : OeeBeside.Gained, share.Earned(begin, end) - atStandard);
        if (share.Standard is null)
            buckets.Add(OeeBeside.WithoutStandard, to - from);
    }

    private void Count(OeeBuckets buckets, Period period)
    {
        foreach (var cut in _cuts)
        {
            if (cut.LastMoment < period.From.UtcTicks || cut.LastMoment >= period.To.UtcTicks)
                continue;
            if (!cut.EndsInPlanned)
            {
                buckets.Add(OeeCount.PartsOutside, cut.IsPart ? 1 : 0);
                continue;
            }

            buckets.Add(OeeCount.Parts, cut.IsPart ? 1 : 0);
            buckets.Add(OeeCount.Scrap, cut.IsPart && cut.IsScrap ? 1 : 0);
            buckets.Add(OeeCount.WithoutStandard, cut.IsPart && cut.HasNoStandard ? 1 : 0);
            buckets.Add(OeeCount.Uncertain, cut.IsUncertain ? 1 : 0);
            buckets.Add(OeeCount.Trims, cut.Worth == CutWorth.Setup ? 1 : 0);
            buckets.Add(OeeCount.Lost, cut.Worth == CutWorth.Lost ? 1 : 0);
        }
    }
}
