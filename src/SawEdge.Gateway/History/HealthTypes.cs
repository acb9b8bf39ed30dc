namespace SawEdge.Gateway.History;

/// <summary>How the gateway itself was at a moment, and what it did since the look before. What is not known is null.</summary>
/// <param name="At">The moment, machine clock; whole milliseconds.</param>
/// <param name="IntervalS">Seconds since the look before, or since the start.</param>
public sealed record HealthReport(DateTimeOffset At, double IntervalS)
{
    /// <summary>Seconds since the start.</summary>
    public double UptimeS { get; init; }

    /// <summary>Processor time that the process took since the look before, seconds; of two cores it may be more than the time that passed.</summary>
    public double ProcessorS { get; init; }

    /// <summary>Memory of the process, bytes: what the system counts as its working set.</summary>
    public long MemoryBytes { get; init; }

    /// <summary>Memory that objects take, bytes.</summary>
    public long HeapBytes { get; init; }

    /// <summary>What the history's file takes on the disk, bytes.</summary>
    public long? HistoryBytes { get; init; }

    /// <summary>What the write-ahead log beside it takes, bytes.</summary>
    public long? LogBytes { get; init; }

    /// <summary>Share of its budget that the history takes.</summary>
    public double? BudgetShare { get; init; }

    /// <summary>Free space where the data folder is, bytes.</summary>
    public long? DiskFreeBytes { get; init; }

    /// <summary>Whether the disk refuses the history.</summary>
    public bool HistoryInTrouble { get; init; }

    /// <summary>What the gateway does of two that watch the same saws in turns (waiting, standby, active, yielding), or null: it watches them alone.</summary>
    public string? Standby { get; init; }

    /// <summary>The last number of the journal.</summary>
    public long JournalEnd { get; init; }

    /// <summary>The saws.</summary>
    public IReadOnlyList<SawHealth> Saws { get; init; } = [];

    /// <summary>The destinations.</summary>
    public IReadOnlyList<DestinationReport> Destinations { get; init; } = [];
}

/// <summary>How the data of a saw come in. Counts are those since the look before.</summary>
/// <param name="Saw">The saw.</param>
public sealed record SawHealth(string Saw)
{
    /// <summary>Frames that came.</summary>
    public long Frames { get; init; }

    /// <summary>Frames that were dropped because processing was behind.</summary>
    public long Lost { get; init; }

    /// <summary>Polls that were due and not made; null where the saw is not polled.</summary>
    public long? Missed { get; init; }

    /// <summary>Requests that brought no values; null where the saw is not polled.</summary>
    public long? Errors { get; init; }

    /// <summary>Cycles that were stored.</summary>
    public long Cycles { get; init; }

    /// <summary>Frames that wait to be processed.</summary>
    public long Waiting { get; init; }

    /// <summary>Seconds since the last frame that held a usable value, or since the start.</summary>
    public double SilenceS { get; init; }
}

/// <summary>How a destination is.</summary>
/// <param name="Destination">Its name.</param>
public sealed record DestinationReport(string Destination)
{
    /// <summary>Entries that wait, of all kinds of points; null where it is not known yet.</summary>
    public long? Waiting { get; init; }

    /// <summary>Age of the oldest of them, seconds; 0 where nothing waits, null where it is not known yet.</summary>
    public double? LagS { get; init; }

    /// <summary>What is set aside because the server refused it; null where it is not known yet.</summary>
    public long? SetAside { get; init; }

    /// <summary>What was cleared away before it was delivered, since the history was begun; null where it is not known yet.</summary>
    public long? Gone { get; init; }

    /// <summary>Whether it takes nothing at the moment; null before it was tried.</summary>
    public bool? InTrouble { get; init; }
}
