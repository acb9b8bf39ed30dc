namespace SawEdge.Core.Oee;

/// <summary>A break by the clock, within a shift. One whose end is not after its begin goes on past midnight.</summary>
/// <param name="From">Its begin, time of day.</param>
/// <param name="To">Its end, time of day.</param>
public sealed record ShiftBreak(TimeOnly From, TimeOnly To);

/// <summary>A shift that comes every week. One whose end is not after its begin goes on into the next day; equal times are 24 hours.</summary>
/// <param name="Name">Its name.</param>
/// <param name="Days">The weekdays on which it begins.</param>
/// <param name="From">Its begin, time of day.</param>
/// <param name="To">Its end, time of day.</param>
/// <param name="Breaks">Its breaks, in any order.</param>
public sealed record WeeklyShift(string Name, IReadOnlySet<DayOfWeek> Days, TimeOnly From, TimeOnly To, IReadOnlyList<ShiftBreak> Breaks);

/// <summary>A shift on one date besides those of the week, holiday or not.</summary>
/// <param name="Name">Its name.</param>
/// <param name="Date">The date on which it begins.</param>
/// <param name="From">Its begin, time of day.</param>
/// <param name="To">Its end, time of day; not after the begin: on the next day.</param>
/// <param name="Breaks">Its breaks, in any order.</param>
public sealed record ExtraShift(string Name, DateOnly Date, TimeOnly From, TimeOnly To, IReadOnlyList<ShiftBreak> Breaks);

/// <summary>Days on which no weekly shift begins. A shift that began the evening before runs to its end.</summary>
/// <param name="First">The first day.</param>
/// <param name="Last">The last day.</param>
/// <param name="Name">Its name.</param>
public sealed record Holiday(DateOnly First, DateOnly Last, string Name);

/// <summary>Time that was planned to stand, as for maintenance: it is no planned busy time.</summary>
/// <param name="Time">When.</param>
/// <param name="Reason">Why.</param>
/// <param name="Saws">The saws that stand, by name; null: all.</param>
public sealed record PlannedStop(Period Time, string Reason, IReadOnlySet<string>? Saws = null);

/// <summary>Which part of a plan is meant.</summary>
public enum CalendarPart : byte
{
    /// <summary>A weekly shift.</summary>
    Shift,

    /// <summary>An extra shift.</summary>
    ExtraShift,

    /// <summary>A holiday.</summary>
    Holiday,
}

/// <summary>What is wrong with a plan.</summary>
/// <param name="Part">The list it stands in.</param>
/// <param name="Index">Its place in that list, from 0 on.</param>
/// <param name="Words">What is wrong and what would be right, a sentence.</param>
public sealed record CalendarProblem(CalendarPart Part, int Index, string Words);

/// <summary>When a plant means to work, as people write it down: by the clock of its time zone.</summary>
public sealed record CalendarPlan
{
    /// <summary>The time zone by whose clock the shifts are meant.</summary>
    public required TimeZoneInfo Zone { get; init; }

    /// <summary>The shifts of the week.</summary>
    public IReadOnlyList<WeeklyShift> Shifts { get; init; } = [];

    /// <summary>Shifts on single dates besides.</summary>
    public IReadOnlyList<ExtraShift> ExtraShifts { get; init; } = [];

    /// <summary>Days without the shifts of the week.</summary>
    public IReadOnlyList<Holiday> Holidays { get; init; } = [];

    /// <summary>Times that were planned to stand; they may overlap.</summary>
    public IReadOnlyList<PlannedStop> PlannedStops { get; init; } = [];

    /// <summary>What is wrong with it: shifts that overlap, breaks outside of their shift, holidays that end before they begin. Empty: nothing.</summary>
    public IReadOnlyList<CalendarProblem> Problems() => CalendarChecks.Problems(this);
}
