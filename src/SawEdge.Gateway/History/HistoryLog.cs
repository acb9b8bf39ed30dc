using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.History;

/// <summary>What the history says. Event ids 4000 to 4099.</summary>
internal static partial class HistoryLog
{
    [LoggerMessage(4001, LogLevel.Error, "The history in '{Folder}' cannot be written: {Reason}. What is finished waits and is written as soon as this is mended; nothing needs a restart.{Again}")]
    public static partial void StorageTrouble(ILogger logger, string folder, string reason, string again);

    [LoggerMessage(4002, LogLevel.Information, "The history in '{Folder}' is written again, after {Duration}; nothing was lost.")]
    public static partial void StorageRecovered(ILogger logger, string folder, TimeSpan duration);

    [LoggerMessage(4003, LogLevel.Error, "Something could not be stored in the history in '{Folder}', everything else was: {Reason}")]
    public static partial void RequestRefused(ILogger logger, string folder, string reason);

    [LoggerMessage(4004, LogLevel.Debug, "A transaction with {Writes} writes took {Milliseconds:0.0} ms")]
    public static partial void Stored(ILogger logger, int writes, double milliseconds);
}
