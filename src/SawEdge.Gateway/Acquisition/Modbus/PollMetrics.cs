using System.Diagnostics.Metrics;

namespace SawEdge.Gateway.Acquisition.Modbus;

/// <summary>
/// How well polls keep their schedule, over all devices of the process, in the runtime's own way of measuring: whoever wants to know listens to the
/// meter, for example with dotnet-counters. Costs nothing as long as nobody does.
/// </summary>
internal static class PollMetrics
{
    /// <summary>Name of the meter.</summary>
    public const string Name = "SawEdge.Polling";

    private static readonly Meter Meter = new(Name);

    /// <summary>Time from when a poll was due to when it began, ms.</summary>
    public static readonly Histogram<double> Lateness = Meter.CreateHistogram<double>("poll.lateness", "ms", "Time from when a poll was due to when it began.");

    /// <summary>Time that a poll took, answered or not, ms.</summary>
    public static readonly Histogram<double> Duration = Meter.CreateHistogram<double>("poll.duration", "ms", "Time that a poll took, answered or not.");

    /// <summary>Polls that were due and not made.</summary>
    public static readonly Counter<long> Missed = Meter.CreateCounter<long>("poll.missed", null, "Polls that were due and not made.");
}
