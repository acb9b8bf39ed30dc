using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Hosting.Standby;

/// <summary>What two gateways that watch the same saws in turns have to say.</summary>
internal static partial class StandbyLog
{
    [LoggerMessage(3570, LogLevel.Information, "the saws are watched in turns with another gateway ({Other} at broker '{Broker}'): this one is the {Role}")]
    public static partial void Begins(ILogger logger, string role, string other, string broker);

    [LoggerMessage(3571, LogLevel.Warning, "the first gateway has been silent for {Seconds} s: this one takes over. Cycles that are under way now are left out, because the first may have a record of them")]
    public static partial void TakesOver(ILogger logger, double seconds);

    [LoggerMessage(3572, LogLevel.Information, "the saws are watched from now on{LeavesOut}")]
    public static partial void Watches(ILogger logger, string leavesOut);

    [LoggerMessage(3573, LogLevel.Warning, "nothing was heard of the other gateway for {Seconds} s ({Why}): the saws are watched without it")]
    public static partial void GoesAlone(ILogger logger, double seconds, string why);

    [LoggerMessage(3574, LogLevel.Information, "the saws are given back ({Why}): cycles that are open here are finished, none is begun any more")]
    public static partial void Yields(ILogger logger, string why);

    [LoggerMessage(3575, LogLevel.Information, "nothing is open any more: this gateway stands by, and asks the saws nothing")]
    public static partial void StandsBy(ILogger logger);

    [LoggerMessage(3576, LogLevel.Warning, "both gateways watch the saws: this one was cut off from the broker and went on, and the other took over. Cycles of that time may be in both histories")]
    public static partial void Doubled(ILogger logger);

    [LoggerMessage(3577, LogLevel.Information, "the other gateway watches the saws no more")]
    public static partial void DoubledNoMore(ILogger logger);

    [LoggerMessage(3578, LogLevel.Warning, "{Saw}: nothing has come from it for {Seconds:0} s, so its open cycle is left as it is stored; it gets its record when this gateway watches the saw again")]
    public static partial void LeftOpen(ILogger logger, string saw, double seconds);

    [LoggerMessage(3579, LogLevel.Warning, "the first gateway's presence is silent, but {Page} says that it watches the saws: it has lost the broker and nothing else, so this one does not take over")]
    public static partial void OnlyTheBrokerIsLost(ILogger logger, Uri page);
}
