namespace SawEdge.Core.Oee;

/// <summary>One shift of one date.</summary>
/// <param name="Name">Its name.</param>
/// <param name="Date">The date on which it begins, by the plant's clock; its day and week are those of this date.</param>
/// <param name="Time">From its begin to its end, breaks included.</param>
/// <param name="Working">The shift without its breaks, in order.</param>
public sealed record Shift(string Name, DateOnly Date, Period Time, IReadOnlyList<Period> Working);

/// <summary>A stretch of planned busy time within one shift.</summary>
/// <param name="Time">When.</param>
/// <param name="Shift">The shift.</param>
public sealed record PlannedPiece(Period Time, Shift Shift);

/// <summary>
/// When the plant means to work: planned busy time (PBT of ISO 22400-2) is the shifts without breaks, planned stops and holidays. Shifts
/// are meant by the plant's clock and last as long as time really passes: a night shift is an hour longer or shorter when the clock
/// changes. Immutable.
/// </summary>
public sealed class ShiftCalendar
{
    /// <summary>How long after the begin of a shift a saw may still be off. Common practice, no source.</summary>
    public static readonly TimeSpan SwitchOn = TimeSpan.FromMinutes(15);

    private readonly CalendarPlan _plan;
    private readonly PlannedStop[] _stops;

    /// <summary>Makes the calendar of a plan.</summary>
    /// <param name="plan">The plan.</param>
    /// <exception cref="ArgumentException">The plan has <see cref="CalendarPlan.Problems"/>; the first is named.</exception>
    public ShiftCalendar(CalendarPlan plan)
    {
        if (plan.Problems() is [var problem, ..])
            throw new ArgumentException($"{problem.Part} {problem.Index}: {problem.Words}.", nameof(plan));
        _plan = plan;
        _stops = [.. plan.PlannedStops.Where(stop => !stop.Time.IsEmpty).OrderBy(stop => stop.Time.From)];
    }

    /// <summary>What it was made of.</summary>
    public CalendarPlan Plan => _plan;

    /// <summary>The plant's time zone.</summary>
    public TimeZoneInfo Zone => _plan.Zone;

    /// <summary>The first moment at which the clock of a zone shows a time or more: one that a clock change skips is the moment of the change, of one that comes twice it is the first.</summary>
    public static DateTimeOffset MomentOf(TimeZoneInfo zone, DateTime local) => LocalMoments.FirstAt(zone, local);

    /// <summary>The shifts that share a moment with a period, whole, in order.</summary>
    public IReadOnlyList<Shift> ShiftsIn(Period period)
    {
        var shifts = new List<Shift>();
        if (period.IsEmpty)
            return shifts;

        // A shift lasts a day at most, and a clock change moves it by less than one more.
        var last = DateOf(period.To).AddDays(1);
        for (var date = DateOf(period.From).AddDays(-2); date <= last; date = date.AddDays(1))
            shifts.AddRange(ShiftsOf(date).Where(shift => shift.Time.Overlaps(period)));
        shifts.Sort((a, b) => a.Time.From.CompareTo(b.Time.From));
        return shifts;
    }

    /// <summary>The shifts that begin on a date, in order.</summary>
    public IReadOnlyList<Shift> ShiftsOf(DateOnly date)
    {
        var weekly = _plan.Holidays.Any(holiday => date >= holiday.First && date <= holiday.Last)
            ? []
            : _plan.Shifts.Where(shift => shift.Days.Contains(date.DayOfWeek)).Select(shift => ClockShift.Of(shift, date));
        var extra = _plan.ExtraShifts.Where(shift => shift.Date == date).Select(ClockShift.Of);
        return [.. weekly.Concat(extra).OrderBy(shift => shift.Begin).Select(ToShift).Where(shift => !shift.Time.IsEmpty)];
    }

    /// <summary>The shift that a moment belongs to, breaks included; null where none runs.</summary>
    public Shift? ShiftAt(DateTimeOffset at) => ShiftsIn(new Period(at, at.AddTicks(1))) is [var shift, ..] ? shift : null;

    /// <summary>
    /// Whether people are at work: a shift runs, and has run for long enough that the saws are switched on. Common practice, no source.
    /// </summary>
    public bool IsAtWork(DateTimeOffset at) => ShiftAt(at) is not null && ShiftAt(at - SwitchOn) is not null;

    /// <summary>A period made longer until it ends in no shift's midst: what has to be known to account for it.</summary>
    public Period Widen(Period period)
    {
        var shifts = ShiftsIn(period);
        if (shifts.Count == 0)
            return period;
        var (first, last) = (shifts[0].Time.From, shifts[^1].Time.To);
        return new Period(first < period.From ? first : period.From, last > period.To ? last : period.To);
    }

    /// <summary>The planned busy time of a saw in a period, in order. Pieces of different shifts are apart even where the shifts meet.</summary>
    /// <param name="period">The period.</param>
    /// <param name="saw">The saw; null: planned stops of single saws do not count.</param>
    public IReadOnlyList<PlannedPiece> Planned(Period period, string? saw = null)
    {
        var pieces = new List<PlannedPiece>();
        foreach (var shift in ShiftsIn(period))
        {
            foreach (var working in shift.Working)
                AddWithoutStops(pieces, shift, working.Clip(period), saw);
        }

        return pieces;
    }

    /// <summary>How much planned busy time a saw has in a period.</summary>
    /// <inheritdoc cref="Planned(Period, string?)"/>
    public TimeSpan PlannedTime(Period period, string? saw = null) => Planned(period, saw).Aggregate(TimeSpan.Zero, (sum, piece) => sum + piece.Time.Duration);

    /// <summary>The date that the plant's clock shows.</summary>
    public DateOnly DateOf(DateTimeOffset at) => DateOnly.FromDateTime(TimeZoneInfo.ConvertTime(at, Zone).DateTime);

    private static void Cut(List<Period> pieces, Period away)
    {
        for (var i = pieces.Count - 1; i >= 0; i--)
        {
            var piece = pieces[i];
            if (!piece.Overlaps(away))
                continue;
            pieces.RemoveAt(i);
            if (piece.To > away.To)
                pieces.Insert(i, new Period(away.To, piece.To));
            if (piece.From < away.From)
                pieces.Insert(i, new Period(piece.From, away.From));
        }
    }

    private void AddWithoutStops(List<PlannedPiece> pieces, Shift shift, Period working, string? saw)
    {
        if (working.IsEmpty)
            return;
        List<Period> left = [working];
        foreach (var stop in _stops)
        {
            if (stop.Time.From >= working.To)
                break;
            if (stop.Saws is null || (saw is not null && stop.Saws.Contains(saw)))
                Cut(left, stop.Time);
        }

        pieces.AddRange(left.Select(piece => new PlannedPiece(piece, shift)));
    }

    private Shift ToShift(ClockShift shift)
    {
        var time = Between(shift.Begin, shift.End);
        List<Period> working = time.IsEmpty ? [] : [time];
        foreach (var pause in shift.Breaks)
        {
            var (from, to) = shift.Local(pause);
            Cut(working, Between(from, to));
        }

        return new Shift(shift.Name, shift.Date, time, working);
    }

    private Period Between(DateTime from, DateTime to) => new(LocalMoments.FirstAt(Zone, from), LocalMoments.FirstAt(Zone, to));
}
