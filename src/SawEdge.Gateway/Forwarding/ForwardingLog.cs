using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Forwarding;

/// <summary>What the forwarding says. Event ids 5000 to 5099.</summary>
internal static partial class ForwardingLog
{
    [LoggerMessage(5001, LogLevel.Information, "Forwarding to '{Destination}' ({Server}) goes on after journal entry {Sequence}; {Pending} entries wait.")]
    public static partial void Started(ILogger logger, string destination, string server, long sequence, long pending);

    [LoggerMessage(5002, LogLevel.Warning, "'{Destination}' ({Server}) does not take anything at the moment: {Reason} (status {Status}). Everything is kept and sent as soon as it does.")]
    public static partial void Waiting(ILogger logger, string destination, string server, int status, string reason);

    [LoggerMessage(5003, LogLevel.Error, "'{Destination}' ({Server}) needs mending: {Advice} The server said: {Reason} (status {Status}). Everything is kept; it is tried again by itself.")]
    public static partial void NeedsMending(ILogger logger, string destination, string server, int status, string advice, string reason);

    [LoggerMessage(5004, LogLevel.Information, "'{Destination}' ({Server}) takes everything again, after {Duration}.")]
    public static partial void Recovered(ILogger logger, string destination, string server, TimeSpan duration);

    [LoggerMessage(5005, LogLevel.Error, "'{Destination}' ({Server}) refused {What} for good; it is set aside with the reason, and everything else goes on: {Reason}")]
    public static partial void SetAside(ILogger logger, string destination, string server, string what, string reason);

    [LoggerMessage(5006, LogLevel.Information, "'{Destination}' ({Server}) takes every point again; {Count} were set aside.")]
    public static partial void NothingRefusedAnyMore(ILogger logger, string destination, string server, long count);

    [LoggerMessage(5007, LogLevel.Warning, "'{Destination}' ({Server}) called {Points} points too large for one request; smaller ones are sent from now on. A smaller batch size in the configuration avoids the detour.")]
    public static partial void TooLarge(ILogger logger, string destination, string server, int points);

    [LoggerMessage(5008, LogLevel.Error, "The history cannot be read for '{Destination}': {Reason} It is tried again by itself.")]
    public static partial void HistoryTrouble(ILogger logger, string destination, string reason);

    [LoggerMessage(5009, LogLevel.Information, "The history is read again for '{Destination}'.")]
    public static partial void HistoryRecovered(ILogger logger, string destination);

    [LoggerMessage(5012, LogLevel.Debug, "'{Destination}': {Points} points, status {Status} after {Milliseconds:0} ms")]
    public static partial void Tried(ILogger logger, string destination, int points, int status, double milliseconds);

    [LoggerMessage(5010, LogLevel.Error, "Daily files '{Name}' in {Folder} cannot be written: {Reason} Everything is kept; it is tried again by itself.")]
    public static partial void FilesStopped(ILogger logger, string name, string folder, string reason);

    [LoggerMessage(5011, LogLevel.Information, "Daily files '{Name}' in {Folder} are written again.")]
    public static partial void FilesGoOn(ILogger logger, string name, string folder);

    [LoggerMessage(5020, LogLevel.Warning, "Profiles of cuts were cleared away before '{Destination}' ({Server}) had them; it goes on with the next that are there. 'sawedge outbox status' counts them.")]
    public static partial void ProfilesGone(ILogger logger, string destination, string server);

    [LoggerMessage(5021, LogLevel.Information, "'{Destination}' ({Server}) has come to profiles that are there; {Count} were cleared away before it had them.")]
    public static partial void NoProfilesGoneAnyMore(ILogger logger, string destination, string server, long count);
}
