namespace SawEdge.Simulator.Saws;

/// <summary>What happens between the cycles.</summary>
public sealed record WorkPattern
{
    /// <summary>Shortest wait between two cycles of a bar, s.</summary>
    public double LeastWaitS { get; init; } = 1.5;

    /// <summary>Mean of what is added to it, s, exponentially distributed.</summary>
    public double ExtraWaitS { get; init; } = 1;

    /// <summary>Chance that an operator's stop comes before a cycle, 0..1.</summary>
    public double StopChance { get; init; } = 0.02;

    /// <summary>Mean length of an operator's stop, s, exponentially distributed above 20 s.</summary>
    public double StopS { get; init; } = 240;

    /// <summary>Time to change a bar, s.</summary>
    public double BarChangeS { get; init; } = 90;

    /// <summary>Time to set up a job, s.</summary>
    public double JobChangeS { get; init; } = 300;

    /// <summary>Time to change a blade, s.</summary>
    public double BladeChangeS { get; init; } = 900;

    /// <summary>Start of the shift each working day, UTC; null: work goes on day and night.</summary>
    public TimeOnly? ShiftStart { get; init; }

    /// <summary>Length of the shift; no cycle begins outside it.</summary>
    public TimeSpan ShiftLength { get; init; } = TimeSpan.FromHours(8);

    /// <summary>Whether Saturday and Sunday are free; only with a shift.</summary>
    public bool FreeWeekends { get; init; } = true;

    /// <summary>The first moment, not before the given one, at which a cycle may begin.</summary>
    public DateTimeOffset NextWorking(DateTimeOffset time)
    {
        if (ShiftStart is not { } start)
            return time;
        // The shift of the day before may reach past midnight.
        for (var day = time.UtcDateTime.Date.AddDays(-1); ; day = day.AddDays(1))
        {
            if (FreeWeekends && (day.DayOfWeek is DayOfWeek.Saturday or DayOfWeek.Sunday))
                continue;
            var from = new DateTimeOffset(day, TimeSpan.Zero) + start.ToTimeSpan();
            if (time < from + ShiftLength)
                return time > from ? time : from;
        }
    }
}
