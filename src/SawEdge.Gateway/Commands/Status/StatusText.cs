using System.Globalization;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Commands.Alarms;
using SawEdge.Gateway.Commands.Histories;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands.Status;

/// <summary>How a gateway is, in one screen: first whether all is well, then what is not, then the figures.</summary>
internal static class StatusText
{
    // More than these fill the screen; 'alarm list' has them all.
    private const int MostAlarms = 8;

    /// <summary>Prints it.</summary>
    public static void Write(TextPage page, GatewayStanding standing, MomentText moments)
    {
        page.Wrapped("", Headline(standing));
        if (standing.Mistake is { } mistake)
            page.Wrapped("  - ", $"{(standing.Runs ? "it goes on with the configuration as it read it before, and would not start with what stands there now" : "it would not start with the configuration as it stands now")}: {mistake}");
        if (standing.Unheard is { Count: > 0 } unheard)
            page.Wrapped("  - ", $"nothing usable was heard of {string.Join(", ", unheard)} since the start, looked at {SpanText.Of(standing.Now - standing.Report!.At)} ago (it looks each minute); the gateway's log says why a device or broker cannot be reached");
        foreach (var alarm in standing.Alarms.Take(MostAlarms))
            page.Wrapped("  - ", $"alarm #{alarm.Number} since {moments.Of(alarm.RaisedAt)}: {alarm.Text}");
        if (standing.Alarms.Count > MostAlarms)
            page.Line($"  - and {AlarmText.Count(standing.Alarms.Count - MostAlarms, "more alarm")}: 'sawedge alarm list'");
        page.Line("");
        if (standing.Report is not { } report)
        {
            page.Wrapped("", "There is no report of the gateway's yet; a running one makes one each minute.");
            return;
        }

        if (!standing.Runs || standing.IsStarting)
            page.Wrapped("", $"The figures are those of {moments.Of(report.At)}.");
        Gateway(page, standing, report);
        if (Standby(report.Standby) is { } turns)
            page.Pair("saws", turns);
        foreach (var saw in report.Saws)
            page.Pair($"saw {saw.Saw}", Saw(saw, report, standing, moments));
        foreach (var destination in report.Destinations)
            page.Pair($"to {destination.Destination}", Destination(destination));
    }

    private static string? Standby(string? word) => word switch
    {
        null => null,
        "standby" => "stands by: the other gateway watches them, this one asks them nothing",
        "waiting" => "not watched yet: the other gateway is to give them back first",
        "yielding" => "given back to the other gateway; what is open here is finished",
        _ => "watched by this gateway of two",
    };

    private static string Headline(GatewayStanding standing)
    {
        if (standing.GatewayTrouble is { } trouble)
            return trouble;
        var things = standing.Alarms.Count + (standing.Mistake is null ? 0 : 1) + (standing.Unheard.Count > 0 ? 1 : 0);
        if (things > 0)
            return things == 1 ? "The gateway runs; 1 thing is not as it should be:" : $"The gateway runs; {things} things are not as they should be:";
        return standing.IsStarting ? "The gateway is starting; nothing is wrong so far." : "All is well.";
    }

    private static void Gateway(TextPage page, GatewayStanding standing, HealthReport report)
    {
        var cores = report.IntervalS > 0 ? Percent(report.ProcessorS / report.IntervalS) + " of one core" : "";
        page.Pair("gateway", $"{(standing.Runs && !standing.IsStarting ? $"runs for {SpanText.Of(TimeSpan.FromSeconds(report.UptimeS) + (standing.Now - report.At))}, " : "")}{SizeText.Of(report.MemoryBytes)} of memory{(cores.Length > 0 ? ", " : "")}{cores}");
        string?[] history =
        [
            report.HistoryBytes is { } bytes ? SizeText.Of(bytes) + (report.BudgetShare is { } share ? $", {Percent(share)} of its budget" : "") : null,
            report.DiskFreeBytes is { } free ? $"{SizeText.Of(free)} free on the disk" : null,
            report.HistoryInTrouble ? "the disk refuses" : null,
        ];
        page.Pair("history", string.Join(", ", history.Where(part => part is not null)));
    }

    private static string Saw(SawHealth saw, HealthReport report, GatewayStanding standing, MomentText moments)
    {
        List<string> parts = [];
        if (saw.SilenceS >= 60 || standing.Unheard.Contains(saw.Saw))
            parts.Add($"nothing heard for {SpanText.Of(TimeSpan.FromSeconds(saw.SilenceS))}");
        else if (report.IntervalS > 0)
            parts.Add(string.Create(CultureInfo.InvariantCulture, $"{saw.Frames / report.IntervalS:0.#} frames a second"));
        if (saw.Lost > 0)
            parts.Add($"{AlarmText.Count(saw.Lost, "frame")} lost");
        if (saw.Missed > 0)
            parts.Add($"{AlarmText.Count(saw.Missed.Value, "poll")} left out");
        if (saw.Errors > 0)
            parts.Add($"{AlarmText.Count(saw.Errors.Value, "request")} without an answer");
        parts.Add(standing.LastCycles.TryGetValue(saw.Saw, out var cycle) ? $"last cycle {moments.Of(cycle.EndedAt)}, {cycle.Outcome.ToName()}" : "no cycle yet");
        return string.Join(", ", parts);
    }

    private static string Destination(DestinationReport destination)
    {
        List<string> parts = [];
        if (destination.InTrouble == true)
            parts.Add("takes nothing at the moment");
        else if (destination.InTrouble is null)
            parts.Add("not tried yet");
        parts.Add(destination.Waiting switch
        {
            null => "what waits is not known",
            0 => "nothing waits",
            var waiting => string.Create(CultureInfo.InvariantCulture, $"{waiting:N0} waiting, the oldest for {SpanText.Of(TimeSpan.FromSeconds(destination.LagS ?? 0))}"),
        });
        if (destination.SetAside > 0)
            parts.Add(string.Create(CultureInfo.InvariantCulture, $"{destination.SetAside:N0} refused and set aside ('sawedge outbox list')"));
        if (destination.Gone > 0)
            parts.Add(string.Create(CultureInfo.InvariantCulture, $"{destination.Gone:N0} cleared away before it had them"));
        return string.Join(", ", parts);
    }

    private static string Percent(double share) => string.Create(CultureInfo.InvariantCulture, $"{share * 100:0.#} %");
}
