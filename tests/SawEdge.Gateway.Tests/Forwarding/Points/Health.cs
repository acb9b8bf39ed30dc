using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Forwarding.Points;

/// <summary>Reports about a gateway's health for tests.</summary>
internal static class Health
{
    /// <summary>One of which everything is known.</summary>
    public static HealthReport Full(int minute = 0) => new(Cycles.Start.AddMinutes(minute), 60)
    {
        UptimeS = 3600 + (60 * minute),
        ProcessorS = 1.25,
        MemoryBytes = 150_000_000,
        HeapBytes = 40_000_000,
        HistoryBytes = 1_000_000_000,
        LogBytes = 4_000_000,
        BudgetShare = 0.05,
        DiskFreeBytes = 90_000_000_000,
        JournalEnd = 1234 + minute,
        Saws =
        [
            new SawHealth("saw 1") { Frames = 600, Lost = 1, Missed = 2, Errors = 3, Cycles = 1, Waiting = 4, SilenceS = 0.1 },
            new SawHealth("saw 2") { Frames = 0, SilenceS = 900 },
        ],
        Destinations =
        [
            new DestinationReport("influx") { Waiting = 7, LagS = 12.5, SetAside = 1, Gone = 2, InTrouble = true },
            new DestinationReport("second"),
        ],
    };

    /// <summary>One of which only what must be is known.</summary>
    public static HealthReport Bare() => new(Cycles.Start, 60);
}
