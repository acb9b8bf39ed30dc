using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Processing;

/// <summary>What processing says, event ids 3000 and up.</summary>
internal static partial class ProcessingLog
{
    [LoggerMessage(3000, LogLevel.Information, "{Saw}: {Outcome}, job '{Job}', cut {CutTime} s, standard {Standard} s ({CycleId})")]
    public static partial void CycleFinished(ILogger logger, string saw, string outcome, string job, double? cutTime, double? standard, string cycleId);

    [LoggerMessage(3001, LogLevel.Information, "{Saw}: continues the cycle that was open when the gateway stopped, from {Frames} stored frames")]
    public static partial void CycleContinued(ILogger logger, string saw, int frames);

    [LoggerMessage(3002, LogLevel.Warning, "{Saw}: processing is behind, {Lost} frames were lost so far; the disk may be slow or refusing")]
    public static partial void FramesLost(ILogger logger, string saw, long lost);

    [LoggerMessage(3003, LogLevel.Information, "{Saw}: processing has caught up; {Lost} frames were lost in all")]
    public static partial void CaughtUp(ILogger logger, string saw, long lost);

    [LoggerMessage(3004, LogLevel.Warning, "{Saw}: what was stored of the last run cannot be used and is left out: {Reason}")]
    public static partial void StateUnusable(ILogger logger, string saw, string reason);
}
