using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Processing;

/// <summary>What processing says, event ids 3000 and up.</summary>
internal static partial class ProcessingLog
{
    [LoggerMessage(3000, LogLevel.Information, "{Saw}: {Outcome}, job '{Job}', cut {CutTime}, standard {Standard} ({CycleId})")]
    public static partial void CycleFinished(ILogger logger, string saw, string outcome, string job, string cutTime, string standard, string cycleId);

    [LoggerMessage(3017, LogLevel.Debug, "{Saw}: {Cycles} cycles are on the disk, {Milliseconds:0} ms after they were found")]
    public static partial void CyclesStored(ILogger logger, string saw, int cycles, double milliseconds);

    [LoggerMessage(3001, LogLevel.Information, "{Saw}: continues the cycle that was open when the gateway stopped, from {Frames} stored frames")]
    public static partial void CycleContinued(ILogger logger, string saw, int frames);

    [LoggerMessage(3002, LogLevel.Warning, "{Saw}: processing is behind, {Lost} frames were lost so far; the disk may be slow or refusing")]
    public static partial void FramesLost(ILogger logger, string saw, long lost);

    [LoggerMessage(3003, LogLevel.Information, "{Saw}: processing has caught up; {Lost} frames were lost in all")]
    public static partial void CaughtUp(ILogger logger, string saw, long lost);

    [LoggerMessage(3004, LogLevel.Warning, "{Saw}: what was stored of the last run cannot be used and is left out: {Reason}")]
    public static partial void StateUnusable(ILogger logger, string saw, string reason);

    [LoggerMessage(3005, LogLevel.Information, "{Saw}: {Words}")]
    public static partial void LiveFinding(ILogger logger, string saw, string words);

    [LoggerMessage(3007, LogLevel.Information, "{Saw}: {Cycles} cycles computed anew in {Seconds:0.0} s, {Changed} records changed: {Reason}")]
    public static partial void Rebuilt(ILogger logger, string saw, int cycles, double seconds, int changed, string reason);

    [LoggerMessage(3008, LogLevel.Warning, "{Saw}: the jobs of {Cycles} cycles cannot be read with the catalogue as it is now; their records stay as they are")]
    public static partial void JobsUnreadable(ILogger logger, string saw, int cycles);

    [LoggerMessage(3009, LogLevel.Warning, "{Saw} and {Other} both cut with blade '{Blade}' within a day; a blade is on one saw at a time, so its life is counted wrong. Correct the one that has another blade ('sawedge blade correct')")]
    public static partial void SharedBlade(ILogger logger, string saw, string other, string blade);

    [LoggerMessage(3010, LogLevel.Information, "{Saw}: the record of {CycleId} was computed anew")]
    public static partial void CycleCorrected(ILogger logger, string saw, string cycleId);

    [LoggerMessage(3011, LogLevel.Warning, "{Saw}: what was stored of the signals from {From:u} cannot be used and is begun anew: {Reason}")]
    public static partial void SampleUnusable(ILogger logger, string saw, DateTimeOffset from, string reason);

    [LoggerMessage(3015, LogLevel.Information, "{Saw}: records of cycles up to {Until:u} stay as they are, because what they were computed from was cleared away to keep the history within its room")]
    public static partial void RecordsStayed(ILogger logger, string saw, DateTimeOffset until);

    [LoggerMessage(3016, LogLevel.Warning, "{Saw}: {Words}")]
    public static partial void Unseen(ILogger logger, string saw, string words);

    [LoggerMessage(3018, LogLevel.Information, "{Saw}: the cycle from {StartedAt:u} on is left out: it belongs to the other gateway that watches the saw in turns with this one")]
    public static partial void LeftOut(ILogger logger, string saw, DateTimeOffset startedAt);
}
