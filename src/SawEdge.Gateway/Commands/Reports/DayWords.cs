using System.Globalization;
using System.Text.RegularExpressions;

namespace SawEdge.Gateway.Commands.Reports;

/// <summary>
/// Days, weeks, months and years as people name them: <c>2026-03-02</c>, <c>today</c>, <c>yesterday</c>, <c>this week</c>, <c>last month</c>. A week
/// begins on Monday (ISO 8601).
/// </summary>
internal static partial class DayWords
{
    /// <summary>Reads such a name.</summary>
    /// <param name="written">What a person wrote.</param>
    /// <param name="today">The date here and now.</param>
    /// <returns>Its first date, and the first that no longer belongs to it; null where it is no such name.</returns>
    public static (DateOnly First, DateOnly Next)? Read(string written, DateOnly today)
    {
        var words = Spaces().Replace(written.Trim(), " ").ToLowerInvariant();
        if (DateOnly.TryParseExact(words, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out var date) && date < DateOnly.MaxValue)
            return (date, date.AddDays(1));
        var week = today.AddDays(-(((int)today.DayOfWeek + 6) % 7));
        var month = new DateOnly(today.Year, today.Month, 1);
        var year = new DateOnly(today.Year, 1, 1);
        return words switch
        {
            "today" => (today, today.AddDays(1)),
            "yesterday" => (today.AddDays(-1), today),
            "this week" => (week, week.AddDays(7)),
            "last week" => (week.AddDays(-7), week),
            "this month" => (month, month.AddMonths(1)),
            "last month" => (month.AddMonths(-1), month),
            "this year" => (year, year.AddYears(1)),
            "last year" => (year.AddYears(-1), year),
            _ => null,
        };
    }

    [GeneratedRegex(@"\s+")]
    private static partial Regex Spaces();
}
