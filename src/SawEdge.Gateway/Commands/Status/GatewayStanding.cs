using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands.Status;

/// <summary>How a gateway is, as far as its data folder tells: whether one runs, its last report, and the alarms whose condition holds.</summary>
/// <param name="Now">When it was looked at.</param>
/// <param name="RunsSince">Since when a gateway owns the folder; null: none does, or that cannot be told.</param>
/// <param name="Runs">Whether one does.</param>
/// <param name="Report">Its last report, or null.</param>
/// <param name="Alarms">The alarms whose condition holds, the most severe first.</param>
/// <param name="LastCycles">The last cycle of each saw that has one.</param>
internal sealed record GatewayStanding(
    DateTimeOffset Now,
    DateTimeOffset? RunsSince,
    bool Runs,
    HealthReport? Report,
    IReadOnlyList<Alarm> Alarms,
    IReadOnlyDictionary<string, CycleRecord> LastCycles)
{
    /// <summary>A gateway reports each minute; one that has not for so long hangs, or its disk refuses.</summary>
    public static readonly TimeSpan ReportsWithin = TimeSpan.FromMinutes(3);

    // Saws begin to be watched a moment after the time of running begins to count; the first report comes long after that.
    private const double StartTakesS = 3;

    /// <summary>Whether it was started so recently that it could not report yet.</summary>
    public bool IsStarting => Runs && Now - RunsSince < ReportsWithin && !(Report?.At >= RunsSince);

    /// <summary>What keeps the gateway itself from its work, in words; null where nothing does.</summary>
    public string? GatewayTrouble
    {
        get
        {
            if (!Runs)
                return "No gateway runs on this folder.";
            if (IsStarting)
                return null;
            if (Report is null)
                return "A gateway runs and has never reported how it is: its disk may refuse; see its log.";
            return Now - Report.At > ReportsWithin ? $"A gateway runs and has not reported for {SpanText.Of(Now - Report.At)}: it hangs, or its disk refuses; see its log." : null;
        }
    }

    /// <summary>What is wrong with the configuration as it stands now, so that the gateway would not start with it; null: nothing.</summary>
    public string? Mistake { get; init; }

    /// <summary>
    /// The saws of which nothing usable has been heard since the gateway's start, as of its last report: long before an alarm says so, whoever has
    /// just connected one wants to know. One that stands by asks none.
    /// </summary>
    public IReadOnlyList<string> Unheard => Runs && !IsStarting && Report is { Standby: not ("standby" or "waiting") } report
        ? [.. report.Saws.Where(saw => saw.SilenceS >= report.UptimeS - StartTakesS).Select(saw => saw.Saw)]
        : [];

    /// <summary>Whether all is well.</summary>
    public bool IsWell => GatewayTrouble is null && Mistake is null && Alarms.Count == 0 && Unheard.Count == 0;

    /// <summary>Reads it.</summary>
    /// <exception cref="CommandException">There is no history of this version.</exception>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public static async Task<GatewayStanding> ReadAsync(NamedFolder folder, TimeProvider time, CancellationToken cancellation)
    {
        var reader = folder.Open();
        var report = await reader.LastHealthAsync(cancellation);
        var alarms = new List<Alarm>();
        await foreach (var alarm in reader.AlarmsAsync(new AlarmFilter { OnlyOpen = true }, cancellation))
        {
            if (alarm.IsActive)
                alarms.Add(alarm);
        }

        var saws = (folder.Options?.Saws.Select(saw => saw.Name) ?? []).Concat(report?.Saws.Select(saw => saw.Saw) ?? []).Distinct(StringComparer.Ordinal);
        return new GatewayStanding(
            time.GetUtcNow(),
            FolderLock.HeldSince(folder.Folder),
            FolderLock.IsHeld(folder.Folder),
            report,
            [.. alarms.OrderByDescending(alarm => alarm.Severity).ThenBy(alarm => alarm.Number)],
            await reader.LastCyclesAsync(saws, cancellation));
    }
}
