using System.Globalization;

namespace SawEdge.Core.Oee;

/// <summary>How long the spans are that figures are given for.</summary>
public enum OeeGrain : byte
{
    /// <summary>An hour by the plant's clock. The hour that comes twice when the clock is set back is two hours.</summary>
    Hour,

    /// <summary>A shift.</summary>
    Shift,

    /// <summary>The shifts that begin on one date: a night shift belongs to the evening on which it begins.</summary>
    Day,

    /// <summary>The days of an ISO 8601 week, Monday to Sunday.</summary>
    Week,
}

/// <summary>A span that figures are given for.</summary>
/// <param name="Grain">What it is.</param>
/// <param name="Name">Its name: the hour, the shift, the date or the week.</param>
/// <param name="Date">The date on which it begins.</param>
/// <param name="Time">Its time; up to the next span, so that what is made between two shifts is stated with the one before.</param>
public sealed record OeeSpan(OeeGrain Grain, string Name, DateOnly Date, Period Time);

/// <summary>Figures of hours, shifts, days and weeks, of saws, groups and the site: always sums of the parts and never averages of ratios.</summary>
public static class OeeRollup
{
    /// <summary>The spans of a period, in order. They meet and cover it, except for the time before the first shift where they follow shifts.</summary>
    /// <param name="calendar">The calendar.</param>
    /// <param name="period">The period.</param>
    /// <param name="grain">How long the spans are.</param>
    public static IReadOnlyList<OeeSpan> Spans(ShiftCalendar calendar, Period period, OeeGrain grain)
    {
        if (grain == OeeGrain.Hour)
            return Hours(calendar, period);
        var shifts = calendar.ShiftsIn(period);
        var begins = new List<(string Name, DateOnly Date, DateTimeOffset From)>();
        var last = "";
        foreach (var shift in shifts)
        {
            var name = grain switch
            {
                OeeGrain.Shift => shift.Name,
                OeeGrain.Day => shift.Date.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture),
                _ => WeekOf(shift.Date),
            };
            if (grain != OeeGrain.Shift && name == last)
                continue;
            last = name;
            begins.Add((name, shift.Date, shift.Time.From > period.From ? shift.Time.From : period.From));
        }

        return [.. begins.Select((begin, i) => new OeeSpan(grain, begin.Name, begin.Date, new Period(begin.From, i + 1 < begins.Count ? begins[i + 1].From : period.To)))];
    }

    /// <summary>Where the time of several saws went in a span: a group or the site.</summary>
    /// <param name="accounts">The accounts of the saws; each covers the period.</param>
    /// <param name="period">The period.</param>
    public static OeeBuckets Total(IEnumerable<OeeAccount> accounts, Period period) => OeeBuckets.Total(accounts.Select(account => account.Buckets(period)));

    /// <summary>The ISO 8601 week of a date, as <c>2026-W10</c>.</summary>
    public static string WeekOf(DateOnly date)
    {
        var day = date.ToDateTime(TimeOnly.MinValue);
        return string.Create(CultureInfo.InvariantCulture, $"{ISOWeek.GetYear(day):D4}-W{ISOWeek.GetWeekOfYear(day):D2}");
    }

    private static List<OeeSpan> Hours(ShiftCalendar calendar, Period period)
    {
        var spans = new List<OeeSpan>();
        var at = period.From;
        while (at < period.To)
        {
            var local = TimeZoneInfo.ConvertTime(at, calendar.Zone);
            var next = at.AddTicks(TimeSpan.TicksPerHour - (local.Ticks % TimeSpan.TicksPerHour));
            if (next > period.To)
                next = period.To;
            spans.Add(new OeeSpan(OeeGrain.Hour, local.ToString("yyyy-MM-dd HH:00", CultureInfo.InvariantCulture), DateOnly.FromDateTime(local.DateTime), new Period(at, next)));
            at = next;
        }

        return spans;
    }
}
