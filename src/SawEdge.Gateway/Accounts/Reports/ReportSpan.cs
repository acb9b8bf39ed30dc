using System.Globalization;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Accounts.Reports;

/// <summary>The span of a report: one shift, or all shifts that begin on a date or in a week.</summary>
/// <param name="Each">What it is.</param>
/// <param name="Title">Its name, as <c>Shift early, Monday 2026-03-02</c>.</param>
/// <param name="FileName">The same for a file, without an ending: letters, digits and hyphens.</param>
/// <param name="Time">From the begin of its first to the end of its last shift.</param>
/// <param name="Shifts">Its shifts.</param>
public sealed record ReportSpan(ReportEach Each, string Title, string FileName, Period Time, IReadOnlyList<Shift> Shifts)
{
    // The longest plant holidays after which a report still finds the shift before them.
    private static readonly TimeSpan Back = TimeSpan.FromDays(60);

    private static readonly TimeSpan Ahead = TimeSpan.FromDays(9);

    /// <summary>The last span that is over at a moment; null where none is for two months.</summary>
    public static ReportSpan? LastBefore(ShiftCalendar calendar, ReportEach each, DateTimeOffset now) =>
        Around(calendar, each, now).LastOrDefault(span => span.Time.To <= now);

    /// <summary>The span that a moment belongs to, the time up to the next included; null where there is none near by.</summary>
    public static ReportSpan? At(ShiftCalendar calendar, ReportEach each, DateTimeOffset at) =>
        Around(calendar, each, at).LastOrDefault(span => span.Time.From <= at);

    /// <summary>The end of the first span that is not over at a moment; null where none is near by.</summary>
    public static DateTimeOffset? NextEnd(ShiftCalendar calendar, ReportEach each, DateTimeOffset now) =>
        Around(calendar, each, now).FirstOrDefault(span => span.Time.To > now)?.Time.To;

    private static IEnumerable<ReportSpan> Around(ShiftCalendar calendar, ReportEach each, DateTimeOffset at)
    {
        // Whole weeks: a group that the question cuts would be too short.
        var shifts = calendar.ShiftsIn(new Period(at - Back, at + Ahead));
        var weeks = shifts.GroupBy(shift => OeeRollup.WeekOf(shift.Date)).Skip(1);
        var groups = each switch
        {
            ReportEach.Shift => weeks.SelectMany(week => week).Select(shift => (IReadOnlyList<Shift>)[shift]),
            ReportEach.Day => weeks.SelectMany(week => week.GroupBy(shift => shift.Date)).Select(day => (IReadOnlyList<Shift>)[.. day]),
            _ => weeks.Where(week => shifts[^1].Date > week.First().Date.AddDays(6)).Select(week => (IReadOnlyList<Shift>)[.. week]),
        };
        return groups.Select(group => Of(each, group));
    }

    private static ReportSpan Of(ReportEach each, IReadOnlyList<Shift> shifts)
    {
        var first = shifts[0];
        var date = first.Date.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
        var (title, file) = each switch
        {
            ReportEach.Shift => (Said($"Shift {first.Name}, {first.Date.DayOfWeek} {date}"), $"shift-{date}-{FileText(first.Name)}"),
            ReportEach.Day => (Said($"{first.Date.DayOfWeek} {date}"), $"day-{date}"),
            _ => ($"Week {OeeRollup.WeekOf(first.Date)}", $"week-{OeeRollup.WeekOf(first.Date)}"),
        };
        return new ReportSpan(each, title, file, new Period(first.Time.From, shifts[^1].Time.To), shifts);
    }

    /// <summary>A name as part of a file's name.</summary>
    internal static string FileText(string name) => string.Concat(name.Select(c => char.IsAsciiLetterOrDigit(c) ? char.ToLowerInvariant(c) : '-'));

    private static string Said(FormattableString words) => words.ToString(CultureInfo.InvariantCulture);
}
