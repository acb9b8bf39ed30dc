namespace SawEdge.Core.Alarms;

/// <summary>Whether a moment lies in working hours.</summary>
public static class WorkingHoursRules
{
    /// <summary>Whether a moment lies in one of the spans, by the clock of their zone; null hours hold always.</summary>
    public static bool Contains(this WorkingHours? hours, DateTimeOffset at) => throw new NotImplementedException();
}
