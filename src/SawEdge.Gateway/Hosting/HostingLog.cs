using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Hosting;

/// <summary>What the gateway as a whole says, event ids 3500 and up.</summary>
internal static partial class HostingLog
{
    [LoggerMessage(3500, LogLevel.Information, "gateway '{Gateway}' of site '{Site}', saws: {Saws}, history in {Folder}")]
    public static partial void Starting(ILogger logger, string gateway, string site, int saws, string folder);

    [LoggerMessage(3501, LogLevel.Information, "stopped; everything seen is in the history")]
    public static partial void Stopped(ILogger logger);

    [LoggerMessage(3502, LogLevel.Critical, "{Part} ended unexpectedly; the gateway stops so that the service manager can start it anew")]
    public static partial void LoopEnded(ILogger logger, string part, Exception? reason);

    [LoggerMessage(3503, LogLevel.Warning, "the last run did not end cleanly; the history is whole, open cycles are taken up from their stored frames")]
    public static partial void EndedUncleanly(ILogger logger);

    [LoggerMessage(3504, LogLevel.Information, "job list {File}: {Jobs} jobs")]
    public static partial void JobsLoaded(ILogger logger, string file, int jobs);

    [LoggerMessage(3505, LogLevel.Warning, "job list {File}, {Problem}")]
    public static partial void JobRowRefused(ILogger logger, string file, string problem);

    [LoggerMessage(3506, LogLevel.Warning, "job list {File} cannot be used ({Reason}); the last good one stays with {Jobs} jobs")]
    public static partial void JobsKept(ILogger logger, string file, string reason, int jobs);

    [LoggerMessage(3523, LogLevel.Information, "job list {File}: {Changes}")]
    public static partial void JobsChanged(ILogger logger, string file, string changes);

    [LoggerMessage(3524, LogLevel.Warning, "job list {File}: job {Job} stays as it was, because its row has a mistake")]
    public static partial void JobStays(ILogger logger, string file, string job);

    [LoggerMessage(3507, LogLevel.Information, "waiting up to {Seconds} s for {Destination} to take what is left; the rest goes out after the next start")]
    public static partial void LastDelivery(ILogger logger, string destination, double seconds);

    [LoggerMessage(3508, LogLevel.Critical, "{Reason}")]
    public static partial void HistoryUnusable(ILogger logger, string reason);

    [LoggerMessage(3509, LogLevel.Warning, "entries about blades cannot be looked for at the moment: {Reason}")]
    public static partial void BladesUnread(ILogger logger, string reason);

    [LoggerMessage(3510, LogLevel.Warning, "what was refused cannot be counted at the moment: {Reason}")]
    public static partial void RefusalsUnread(ILogger logger, string reason);

    [LoggerMessage(3511, LogLevel.Warning, "OEE for the alarms cannot be worked out at the moment: {Reason}")]
    public static partial void OeeUnread(ILogger logger, string reason);

    [LoggerMessage(3513, LogLevel.Warning, "{Saw} is read from recordings: 'sawedge replay --config' does that, and here nothing is read of it")]
    public static partial void ReplayOnly(ILogger logger, string saw);

    [LoggerMessage(3514, LogLevel.Critical, "The history was damaged ({Finding}) and lies in {File} now; a new one was begun, and cuts are recorded there. Stop the gateway and put the last backup in its place with 'sawedge history restore FILE'. Without a backup, move the damaged file out of the data folder; the alarm ends then.")]
    public static partial void HistoryDamaged(ILogger logger, string finding, string file);

    [LoggerMessage(3515, LogLevel.Error, "The mark that the history is to be looked through at the next start could not be left in {Folder}; run 'sawedge history check' before.")]
    public static partial void NotDistrusted(ILogger logger, string folder);

    [LoggerMessage(3516, LogLevel.Error, "{File} was changed and has a mistake: {Finding} ({Count} in all; 'sawedge check' shows them). {What}; the gateway would not start with this file")]
    public static partial void ConfigurationNotTaken(ILogger logger, string file, string finding, int count, string what);

    [LoggerMessage(3560, LogLevel.Information, "{File}: {Part} was {What}")]
    public static partial void PartTaken(ILogger logger, string file, string part, string what);

    [LoggerMessage(3561, LogLevel.Warning, "{File}: {What} changed; that takes effect at the next start")]
    public static partial void ForNextStart(ILogger logger, string file, string what);

    [LoggerMessage(3562, LogLevel.Information, "{Saws}: stopped; what was open is stored")]
    public static partial void SawsStopped(ILogger logger, string saws);

    [LoggerMessage(3563, LogLevel.Information, "{Saws}: started as configured now")]
    public static partial void SawsStarted(ILogger logger, string saws);

    [LoggerMessage(3517, LogLevel.Information, "{File} is without mistakes again")]
    public static partial void ConfigurationGoodAgain(ILogger logger, string file);

    [LoggerMessage(3518, LogLevel.Information, "destination '{Destination}' ({Server}) is taken over as it is configured now, and tried at once")]
    public static partial void DestinationTaken(ILogger logger, string destination, string server);

    [LoggerMessage(3519, LogLevel.Warning, "destination '{Destination}' is not in {File} any more; it is written to until the next start")]
    public static partial void DestinationGone(ILogger logger, string destination, string file);

    [LoggerMessage(3520, LogLevel.Warning, "destination '{Destination}' is new in {File}; it is written to from the next start on")]
    public static partial void DestinationNew(ILogger logger, string destination, string file);

    [LoggerMessage(3522, LogLevel.Warning, "what destination '{Destination}' is sent (\"points\") is another in {File}; that holds from the next start on")]
    public static partial void DestinationPoints(ILogger logger, string destination, string file);

    [LoggerMessage(3521, LogLevel.Warning, "what waits for the destinations cannot be counted at the moment: {Reason}")]
    public static partial void StandingsUnread(ILogger logger, string reason);

    [LoggerMessage(3512, LogLevel.Warning, "nothing old can be cleared away at the moment: {Reason}")]
    public static partial void HistoryNotCleared(ILogger logger, string reason);

    [LoggerMessage(3530, LogLevel.Warning, "the history took {Size}, more than its budget of {Budget}: the {Samples} oldest samples of signals were cleared away, and the profiles of the {Cycles} oldest cycles that had one{Until}; it takes {Now} now. Records and alarms are all there")]
    public static partial void RoomMade(ILogger logger, string size, string budget, long samples, long cycles, string until, string now);

    [LoggerMessage(3531, LogLevel.Error, "the history takes {Size}, more than its budget of {Budget}, and holds nothing more that may be cleared away. Raise history.budget, or move to a larger disk")]
    public static partial void HistoryFull(ILogger logger, string size, string budget);

    [LoggerMessage(3532, LogLevel.Information, "the history is within its budget of {Budget} again")]
    public static partial void HistoryFits(ILogger logger, string budget);

    [LoggerMessage(3533, LogLevel.Warning, "the history's file cannot be made smaller while it is in use; room in it that was cleared is used again")]
    public static partial void HistoryDoesNotShrink(ILogger logger);

    [LoggerMessage(3534, LogLevel.Warning, "of what was cleared away to keep to the budget, '{Destination}' did not have {Count} entries yet; it will not get them. A larger history.budget bridges longer outages")]
    public static partial void GoneUndelivered(ILogger logger, string destination, long count);

    [LoggerMessage(3535, LogLevel.Warning, "of the profiles that were cleared away to keep to the budget, '{Destination}' did not have all yet; it will not get them. A larger history.budget bridges longer outages")]
    public static partial void ProfilesGoneUndelivered(ILogger logger, string destination);

    [LoggerMessage(3536, LogLevel.Warning, "the gateway's own health cannot be reported at the moment: {Reason}")]
    public static partial void HealthUnread(ILogger logger, string reason);

    [LoggerMessage(3537, LogLevel.Information, "what is logged of '{Area}' begins with level {Now} now, before with {Before}")]
    public static partial void LevelTaken(ILogger logger, string area, string now, string before);

    [LoggerMessage(3540, LogLevel.Critical, "{Part} hangs: for {Seconds} s nothing was done although something waits. The service manager is told no more that the gateway lives, and starts it anew")]
    public static partial void Hangs(ILogger logger, string part, double seconds);

    [LoggerMessage(3541, LogLevel.Information, "what hung goes on again")]
    public static partial void HangsNoMore(ILogger logger);

    [LoggerMessage(3550, LogLevel.Warning, "the machine's clock was set {Step} to {Now:u}. Cycles that are open keep their durations and the times that they began with; what follows goes by the clock as it is now")]
    public static partial void ClockSet(ILogger logger, string step, DateTimeOffset now);

    [LoggerMessage(3551, LogLevel.Information, "the machine's clock has gone steadily for 10 minutes; it was set {Times} times")]
    public static partial void ClockSteady(ILogger logger, int times);

    [LoggerMessage(3552, LogLevel.Warning, "the machine's clock is not to be trusted: {Doubt}. Records say so, and nothing is cleared away for its age while the clock may be ahead; set the clock, or see to it that it is set at the start (NTP)")]
    public static partial void ClockDoubted(ILogger logger, string doubt);

    [LoggerMessage(3553, LogLevel.Warning, "the machine's clock jumped {Step}, to {Claimed:u}. That is followed only once it has stood so for {Minutes} minutes; until then time goes on as it passes")]
    public static partial void ClockNotFollowed(ILogger logger, DateTimeOffset claimed, string step, double minutes);

    [LoggerMessage(3554, LogLevel.Information, "the machine's clock is back where it was before it jumped")]
    public static partial void ClockCameBack(ILogger logger);

    [LoggerMessage(3542, LogLevel.Warning, "{Trouble}")]
    public static partial void DiskIsSmall(ILogger logger, string trouble);
}
