namespace SawEdge.Simulator.Faults;

/// <summary>
/// When a fault holds: from a cycle on, or from a time on, for a number of cycles. The first cycle is number 1. A fault
/// given by time begins with the first cycle that starts at or after it; a fault of a bar with the first cut of one.
/// </summary>
public readonly record struct FaultTrigger
{
    private FaultTrigger(long? fromCycle, DateTimeOffset? fromTime, long cycles, bool oneBar = false)
    {
        if (fromCycle < 1)
            throw new ArgumentOutOfRangeException(nameof(fromCycle), fromCycle, "The first cycle is number 1.");
        if (cycles < 1)
            throw new ArgumentOutOfRangeException(nameof(cycles), cycles, "A fault holds for one cycle at least.");
        (FromCycle, FromTime, Cycles, OneBar) = (fromCycle, fromTime, cycles, oneBar);
    }

    /// <summary>First cycle, or null where it begins by time.</summary>
    public long? FromCycle { get; }

    /// <summary>Time, or null where it begins by cycle.</summary>
    public DateTimeOffset? FromTime { get; }

    /// <summary>Number of cycles it holds for.</summary>
    public long Cycles { get; }

    /// <summary>Whether it waits for the first cut of a bar and goes with that bar.</summary>
    public bool OneBar { get; }

    /// <summary>From a cycle on.</summary>
    public static FaultTrigger AtCycle(long cycle, long cycles = 1) => new(cycle, null, cycles);

    /// <summary>From a time on.</summary>
    public static FaultTrigger AtTime(DateTimeOffset time, long cycles = 1) => new(null, time, cycles);

    /// <summary>On the first bar that is begun at a cycle or later, for some of its cuts at most.</summary>
    public static FaultTrigger OnBar(long cycle, long cycles = long.MaxValue) => new(cycle, null, cycles, oneBar: true);

    /// <summary>From a cycle on and for good.</summary>
    public static FaultTrigger Onward(long cycle) => new(cycle, null, long.MaxValue);

    /// <summary>Whether it has begun by a cycle that starts at a time.</summary>
    public bool HasBegun(long cycle, DateTimeOffset start) => FromCycle is { } first ? cycle >= first : start >= FromTime;
}
