using System.Text.Json;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Commands.Alarms;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.History;
using AlarmJson = SawEdge.Gateway.Commands.Alarms.AlarmJson;

namespace SawEdge.Gateway.Commands.Outbox;

/// <summary><c>outbox status</c>: how far each destination is.</summary>
internal sealed class OutboxStatus
{
    private readonly List<Standing> _standings = [];

    private OutboxStatus(bool isRunning, bool isConfigured, long last) => (IsRunning, IsConfigured, Last) = (isRunning, isConfigured, last);

    private bool IsRunning { get; }

    private bool IsConfigured { get; }

    private long Last { get; }

    /// <summary>Reads it.</summary>
    public static async Task<OutboxStatus> ReadAsync(NamedFolder folder, CancellationToken cancellation)
    {
        var reader = folder.Open();
        var status = new OutboxStatus(FolderLock.IsHeld(folder.Folder), folder.Options is not null, await reader.LastSequenceAsync(cancellation));
        foreach (var destination in await KnownDestinations.FindAsync(folder, reader, cancellation))
        {
            var outbox = await reader.OutboxAsync(destination.Name, destination.Kind == DestinationKind.DailyFiles ? null : HoursLane.ConsumerOf(destination.Name), cancellation);
            var alarms = new List<Alarm>();
            await foreach (var alarm in reader.AlarmsAsync(new AlarmFilter { OnlyOpen = true, Subject = destination.Name }, cancellation))
            {
                if (alarm.IsActive && alarm.Subject.Kind == AlarmSubjectKind.Destination)
                    alarms.Add(alarm);
            }

            status._standings.Add(new Standing(destination, outbox, await reader.LanesWaitingAsync(destination.Name, cancellation), alarms));
        }

        return status;
    }

    /// <summary>Prints it.</summary>
    public void Write(TextPage page, MomentText moments)
    {
        if (_standings.Count == 0)
        {
            page.Wrapped("", IsConfigured ? "The configuration has no destination, and the history knows of none." : "The history knows of no destination; those that are new stand in the configuration only, which --config names.");
            return;
        }

        page.Wrapped("", IsRunning ? "A gateway runs on this folder." : "No gateway runs on this folder now; what waits is sent at its next start.");
        foreach (var (destination, outbox, lanes, alarms) in _standings)
        {
            page.Line("");
            page.Wrapped("", destination.Where.Length > 0 ? $"{destination.Name}: {destination.Where}" : IsConfigured ? $"{destination.Name}: not in the configuration; nothing is sent there" : destination.Name);
            page.Pair("Waiting", Waiting(destination, outbox));
            page.Pair("Waiting since", outbox.OldestAt is { } oldest && !IsIdle(destination, outbox) ? moments.Of(oldest) : null);
            page.Pair("Hours to be told", destination.Kind == DestinationKind.DailyFiles ? null : FormattableString.Invariant($"{outbox.Hours:N0}"));
            page.Pair("Profiles", destination.Points.HasFlag(PointChoice.Profiles) ? $"of {AlarmText.Count(lanes.Profiles, "cycle")} wait" : null);
            page.Pair("Signals", destination.Points.HasFlag(PointChoice.Signals) ? $"{AlarmText.Count(lanes.Samples, "interval")} of saws wait" : null);
            page.Pair("Gateway's health", destination.Points.HasFlag(PointChoice.Gateway) ? $"{AlarmText.Count(lanes.Reports, "report")} wait" : null);
            page.Pair("Gone before", lanes.Gone == 0 ? null : FormattableString.Invariant($"{lanes.Gone:N0} profiles, intervals and reports were cleared away before it had them, the last at {moments.Of(lanes.GoneAt!.Value)}"));
            page.Pair("Done with", FormattableString.Invariant($"{outbox.Cursor:N0} of {Last:N0} entries of the journal") + (outbox.MovedAt is { } moved ? $", the last at {moments.Of(moved)}" : ""));
            foreach (var alarm in alarms)
                page.Pair("Trouble", FormattableString.Invariant($"alarm #{alarm.Number} since {moments.Of(alarm.RaisedAt)}: {alarm.Text}"));
            page.Pair("Set aside", outbox.SetAside == 0 ? "nothing" : FormattableString.Invariant($"{outbox.SetAside:N0}, the last at {moments.Of(outbox.SetAsideAt!.Value)}; 'sawedge outbox list {destination.Name}' shows why"));
        }
    }

    /// <summary>The same for programs.</summary>
    public string Json() => AlarmJson.Text(json =>
    {
        json.WriteStartObject();
        json.WriteBoolean("gateway_running", IsRunning);
        json.WriteNumber("journal_end", Last);
        json.WriteStartArray("destinations");
        foreach (var (destination, outbox, lanes, alarms) in _standings)
        {
            json.WriteStartObject();
            json.WriteString("name", destination.Name);
            json.WriteString("kind", destination.Kind switch { DestinationKind.Influx => "influx", DestinationKind.DailyFiles => "daily_files", _ => "other" });
            AlarmJson.Words(json, "where", destination.Where);
            json.WriteNumber("cursor", outbox.Cursor);
            AlarmJson.Moment(json, "moved_at", outbox.MovedAt);
            json.WriteNumber("waiting_cycles", outbox.Cycles);
            json.WriteNumber("waiting_alarm_events", destination.Kind == DestinationKind.DailyFiles ? 0 : outbox.AlarmEvents);
            AlarmJson.Moment(json, "waiting_since", IsIdle(destination, outbox) ? null : outbox.OldestAt);
            json.WriteNumber("waiting_hours", outbox.Hours);
            Waiting(json, "waiting_profiles", destination, PointChoice.Profiles, lanes.Profiles);
            Waiting(json, "waiting_signals", destination, PointChoice.Signals, lanes.Samples);
            Waiting(json, "waiting_health_reports", destination, PointChoice.Gateway, lanes.Reports);
            json.WriteNumber("gone", lanes.Gone);
            AlarmJson.Moment(json, "gone_at", lanes.GoneAt);
            json.WriteNumber("set_aside", outbox.SetAside);
            AlarmJson.Moment(json, "set_aside_at", outbox.SetAsideAt);
            json.WriteStartArray("alarms");
            foreach (var alarm in alarms)
                AlarmJson.Write(json, alarm);
            json.WriteEndArray();
            json.WriteEndObject();
        }

        json.WriteEndArray();
        json.WriteEndObject();
    });

    // What a destination does not want does not wait for it.
    private static void Waiting(Utf8JsonWriter json, string name, KnownDestination destination, PointChoice choice, long count) => json.WriteNumber(name, destination.Points.HasFlag(choice) ? count : 0);

    private static bool IsIdle(KnownDestination destination, StoredOutbox outbox) => outbox.Cycles + (destination.Kind == DestinationKind.DailyFiles ? 0 : outbox.AlarmEvents) == 0;

    private static string Waiting(KnownDestination destination, StoredOutbox outbox) => IsIdle(destination, outbox)
        ? "nothing"
        : destination.Kind == DestinationKind.DailyFiles ? AlarmText.Count(outbox.Cycles, "cycle") : $"{AlarmText.Count(outbox.Cycles, "cycle")}, {AlarmText.Count(outbox.AlarmEvents, "event")} of alarms";

    /// <summary>How far one is.</summary>
    /// <param name="Destination">The destination.</param>
    /// <param name="Outbox">What waits for it.</param>
    /// <param name="Lanes">What waits for its other lanes.</param>
    /// <param name="Alarms">The alarms about it whose condition holds.</param>
    private sealed record Standing(KnownDestination Destination, StoredOutbox Outbox, LanesWaiting Lanes, IReadOnlyList<Alarm> Alarms);
}
