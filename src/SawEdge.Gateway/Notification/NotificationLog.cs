using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Notification;

/// <summary>What the channels say. Event ids 7000 to 7099.</summary>
internal static partial class NotificationLog
{
    [LoggerMessage(7001, LogLevel.Information, "Channel '{Channel}' ({Receiver}) goes on after journal entry {Sequence}.")]
    public static partial void Started(ILogger logger, string channel, string receiver, long sequence);

    [LoggerMessage(7002, LogLevel.Warning, "Channel '{Channel}' ({Receiver}) takes nothing at the moment: {Reason} Messages are kept and sent as soon as it does.")]
    public static partial void Waiting(ILogger logger, string channel, string receiver, string reason);

    [LoggerMessage(7003, LogLevel.Error, "Channel '{Channel}' ({Receiver}) needs mending: {Reason} Messages are kept; it is tried again by itself.")]
    public static partial void NeedsMending(ILogger logger, string channel, string receiver, string reason);

    [LoggerMessage(7004, LogLevel.Information, "Channel '{Channel}' ({Receiver}) takes messages again, after {Duration}.")]
    public static partial void Recovered(ILogger logger, string channel, string receiver, TimeSpan duration);

    [LoggerMessage(7005, LogLevel.Error, "Channel '{Channel}' ({Receiver}): a message is set aside, everything else goes on: {Reason}")]
    public static partial void SetAside(ILogger logger, string channel, string receiver, string reason);

    [LoggerMessage(7006, LogLevel.Information, "Channel '{Channel}' ({Receiver}) takes every message again; {Count} were set aside.")]
    public static partial void NothingRefusedAnyMore(ILogger logger, string channel, string receiver, long count);

    [LoggerMessage(7007, LogLevel.Error, "The history cannot be read for channel '{Channel}': {Reason} It is tried again by itself.")]
    public static partial void HistoryTrouble(ILogger logger, string channel, string reason);

    [LoggerMessage(7008, LogLevel.Information, "The history is read again for channel '{Channel}'.")]
    public static partial void HistoryRecovered(ILogger logger, string channel);

    [LoggerMessage(7009, LogLevel.Debug, "Channel '{Channel}': {Entries} entries, {Verdict} after {Milliseconds:0} ms")]
    public static partial void Tried(ILogger logger, string channel, int entries, SendVerdict verdict, double milliseconds);
}
