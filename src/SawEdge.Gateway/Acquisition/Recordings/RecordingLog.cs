using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Acquisition.Recordings;

internal static partial class RecordingLog
{
    [LoggerMessage(2300, LogLevel.Information, "Recording every frame into {File}")]
    public static partial void Started(ILogger logger, string file);

    [LoggerMessage(2301, LogLevel.Error, "The recording cannot be written to {Folder}: {Reason}. Frames are left out of the recording until it can; nothing else is touched")]
    public static partial void Failed(ILogger logger, string folder, string reason);

    [LoggerMessage(2302, LogLevel.Warning, "The recording is written again, into {File}; {Lost} frames are missing from it")]
    public static partial void Resumed(ILogger logger, string file, long lost);

    [LoggerMessage(2303, LogLevel.Warning, "The recording cannot keep up; frames are being left out of it")]
    public static partial void Behind(ILogger logger);

    [LoggerMessage(2304, LogLevel.Information, "Recorded {Frames} frames, the last of them into {File}; {Lost} were left out")]
    public static partial void Ended(ILogger logger, long frames, string file, long lost);

    [LoggerMessage(2305, LogLevel.Information, "The recording goes on in {File}")]
    public static partial void GoesOn(ILogger logger, string file);

    [LoggerMessage(2306, LogLevel.Information, "Removed the recording {File}, the oldest: all of them may take {Megabytes} MB")]
    public static partial void Removed(ILogger logger, string file, long megabytes);

    [LoggerMessage(2309, LogLevel.Warning, "The recording {File} is to be removed to keep to the bound, and cannot be: {Reason}")]
    public static partial void NotRemoved(ILogger logger, string file, string reason);

    [LoggerMessage(2307, LogLevel.Warning, "Recordings in {Folder} cannot be compressed: {Reason}. They stay as they are until they can")]
    public static partial void NotCompressed(ILogger logger, string folder, string reason);

    [LoggerMessage(2308, LogLevel.Information, "Recordings in {Folder} are compressed again")]
    public static partial void CompressesAgain(ILogger logger, string folder);
}
