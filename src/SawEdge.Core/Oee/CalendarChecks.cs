using System.Globalization;

namespace SawEdge.Core.Oee;

/// <summary>Finds what is wrong with a plan, by the clock.</summary>
internal static class CalendarChecks
{
    public static IReadOnlyList<CalendarProblem> Problems(CalendarPlan plan)
    {
        var problems = new List<CalendarProblem>();
        for (var i = 0; i < plan.Holidays.Count; i++)
        {
            if (plan.Holidays[i].Last < plan.Holidays[i].First)
                problems.Add(new CalendarProblem(CalendarPart.Holiday, i, Said($"it ends on {plan.Holidays[i].Last:yyyy-MM-dd}, before it begins; its last day must not be before its first")));
        }

        for (var i = 0; i < plan.Shifts.Count; i++)
        {
            var shift = plan.Shifts[i];
            if (shift.Days.Count == 0)
                problems.Add(new CalendarProblem(CalendarPart.Shift, i, "it begins on no weekday; name at least one"));
            CheckBreaks(problems, CalendarPart.Shift, i, new ClockShift(shift.Name, default, shift.From, shift.To, shift.Breaks));
        }

        for (var i = 0; i < plan.ExtraShifts.Count; i++)
        {
            var shift = plan.ExtraShifts[i];
            CheckBreaks(problems, CalendarPart.ExtraShift, i, new ClockShift(shift.Name, shift.Date, shift.From, shift.To, shift.Breaks));
        }

        CheckWeek(problems, plan);
        CheckExtra(problems, plan);
        return problems;
    }

    private static void CheckBreaks(List<CalendarProblem> problems, CalendarPart part, int index, ClockShift shift)
    {
        var spans = new List<(DateTime From, DateTime To, ShiftBreak Break)>();
        foreach (var pause in shift.Breaks)
        {
            var (from, to) = shift.Local(pause);
            if (pause.From == pause.To || from < shift.Begin || to > shift.End)
                problems.Add(new CalendarProblem(part, index, Said($"its break {pause.From:HH:mm} to {pause.To:HH:mm} does not lie within the shift, {shift.From:HH:mm} to {shift.To:HH:mm}")));
            else
                spans.Add((from, to, pause));
        }

        spans.Sort((a, b) => a.From.CompareTo(b.From));
        for (var i = 1; i < spans.Count; i++)
        {
            if (spans[i].From < spans[i - 1].To)
                problems.Add(new CalendarProblem(part, index, Said($"its breaks from {spans[i - 1].Break.From:HH:mm} and from {spans[i].Break.From:HH:mm} overlap")));
        }
    }

    // One week beside the next: every pair of shifts that can meet does so here. Each pair is told once.
    private static void CheckWeek(List<CalendarProblem> problems, CalendarPlan plan)
    {
        var monday = new DateOnly(2001, 1, 1);
        var spans = new List<(ClockShift Shift, int Index)>();
        for (var day = 0; day < 8; day++)
        {
            var date = monday.AddDays(day);
            for (var i = 0; i < plan.Shifts.Count; i++)
            {
                if (plan.Shifts[i].Days.Contains(date.DayOfWeek))
                    spans.Add((ClockShift.Of(plan.Shifts[i], date), i));
            }
        }

        spans.Sort((a, b) => a.Shift.Begin.CompareTo(b.Shift.Begin));
        var told = new HashSet<(int, int)>();
        for (var i = 0; i < spans.Count; i++)
        {
            for (var j = i + 1; j < spans.Count && spans[j].Shift.Begin < spans[i].Shift.End; j++)
            {
                var (one, other) = (spans[i], spans[j]);
                if (told.Add((Math.Min(one.Index, other.Index), Math.Max(one.Index, other.Index))))
                    problems.Add(new CalendarProblem(CalendarPart.Shift, other.Index, Said($"it begins on {other.Shift.Date.DayOfWeek} at {other.Shift.From:HH:mm}, while shift '{one.Shift.Name}' still runs until {one.Shift.To:HH:mm}; shifts must not overlap")));
            }
        }
    }

    private static void CheckExtra(List<CalendarProblem> problems, CalendarPlan plan)
    {
        for (var i = 0; i < plan.ExtraShifts.Count; i++)
        {
            var extra = ClockShift.Of(plan.ExtraShifts[i]);
            var others = Enumerable.Range(-1, 3).Select(extra.Date.AddDays)
                .Where(date => !plan.Holidays.Any(holiday => date >= holiday.First && date <= holiday.Last))
                .SelectMany(date => plan.Shifts.Where(shift => shift.Days.Contains(date.DayOfWeek)).Select(shift => ClockShift.Of(shift, date)))
                .Concat(plan.ExtraShifts.Take(i).Select(ClockShift.Of));
            if (others.FirstOrDefault(other => other.Begin < extra.End && extra.Begin < other.End) is { } clash)
                problems.Add(new CalendarProblem(CalendarPart.ExtraShift, i, Said($"it overlaps shift '{clash.Name}' of {clash.Date:yyyy-MM-dd}, {clash.From:HH:mm} to {clash.To:HH:mm}; shifts must not overlap")));
        }
    }

    private static string Said(FormattableString words) => words.ToString(CultureInfo.InvariantCulture);
}

/// <summary>A shift of one date, by the clock.</summary>
internal sealed record ClockShift(string Name, DateOnly Date, TimeOnly From, TimeOnly To, IReadOnlyList<ShiftBreak> Breaks)
{
    public DateTime Begin => Date.ToDateTime(From);

    public DateTime End => Date.ToDateTime(To).AddDays(To <= From ? 1 : 0);

    public static ClockShift Of(WeeklyShift shift, DateOnly date) => new(shift.Name, date, shift.From, shift.To, shift.Breaks);

    public static ClockShift Of(ExtraShift shift) => new(shift.Name, shift.Date, shift.From, shift.To, shift.Breaks);

    public (DateTime From, DateTime To) Local(ShiftBreak pause)
    {
        var from = Date.ToDateTime(pause.From).AddDays(pause.From < From ? 1 : 0);
        var to = from.Date + pause.To.ToTimeSpan();
        return (from, to <= from ? to.AddDays(1) : to);
    }
}
