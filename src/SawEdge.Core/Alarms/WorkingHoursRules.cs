namespace SawEdge.Core.Alarms;

/// <summary>Whether a moment lies in working hours.</summary>
public static class WorkingHoursRules
{
    /// <summary>
    /// Whether a moment lies in one of the spans, by the clock of their zone; null hours hold always. Where that clock is put back,
    /// an hour comes twice and belongs to the hours both times; where it is put forward, an hour never comes.
    /// </summary>
    public static bool Contains(this WorkingHours? hours, DateTimeOffset at)
    {
        if (hours is null)
            return true;
        var local = TimeZoneInfo.ConvertTime(at, hours.Zone).DateTime;
        var time = TimeOnly.FromDateTime(local);
        var yesterday = (DayOfWeek)(((int)local.DayOfWeek + 6) % 7);
        foreach (var span in hours.Spans)
        {
            var over = span.To <= span.From;
            if (span.Days.Contains(local.DayOfWeek) && time >= span.From && (over || time < span.To))
                return true;
            if (over && span.Days.Contains(yesterday) && time < span.To)
                return true;
        }

        return false;
    }
}
