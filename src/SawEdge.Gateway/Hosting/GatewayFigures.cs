using System.Collections.Concurrent;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Notification;

namespace SawEdge.Gateway.Hosting;

/// <summary>What is counted of a running gateway, for those who watch it.</summary>
internal sealed class GatewayFigures
{
    private readonly ConcurrentDictionary<(string Saw, CutOutcome Outcome), long> _cycles = new();

    /// <summary>A cycle is on the disk.</summary>
    public void Finished(CycleRecord record) => _cycles.AddOrUpdate((record.Saw, record.Outcome), 1, (_, count) => count + 1);

    /// <summary>Cycles of a saw that came to the disk since the start.</summary>
    public long CyclesOf(string saw) => _cycles.Where(pair => pair.Key.Saw == saw).Sum(pair => pair.Value);

    /// <summary>The figures as they are now.</summary>
    /// <param name="journal">How far the journal reaches.</param>
    /// <param name="inboxes">Where frames come in.</param>
    /// <param name="lanes">The ways of the journal to its destinations.</param>
    /// <param name="channels">The channels.</param>
    /// <param name="standings">What waits for the destinations.</param>
    /// <param name="keeping">What the history takes on the disk.</param>
    /// <param name="writer">The history.</param>
    public IEnumerable<Metric> Read(long journal, IEnumerable<SawInbox> inboxes, IEnumerable<JournalLane> lanes, IEnumerable<ChannelLoop> channels, DeliveryStandings standings, HistoryKeeping keeping, HistoryWriter writer)
    {
        foreach (var inbox in inboxes)
        {
            yield return new("sawedge_frames_total", "Frames that came from a saw since the start: polls that were answered, messages.", true, inbox.Offered, ("saw", inbox.Saw));
            yield return new("sawedge_frames_lost_total", "Frames lost because processing was behind.", true, inbox.Lost, ("saw", inbox.Saw));
        }

        foreach (var ((saw, outcome), count) in _cycles.OrderBy(pair => pair.Key))
            yield return new("sawedge_cycles_total", "Cycles stored since the start.", true, count, ("saw", saw), ("outcome", outcome.ToName()));
        yield return new("sawedge_history_trouble", "1 while the disk refuses, otherwise 0.", false, writer.InTrouble ? 1 : 0);
        yield return new("sawedge_journal_entries", "Last number of the journal.", false, journal);
        foreach (var (kind, name, cursor, inTrouble) in lanes.Select(one => ("influx", one.Name, one.Cursor, one.Destination.InTrouble)).Concat(channels.Select(one => ("channel", one.Name, one.Cursor, one.InTrouble))))
        {
            yield return new("sawedge_delivery_lag_entries", "Entries of the journal that a consumer has not dealt with.", false, Math.Max(0, journal - cursor), ("kind", kind), ("consumer", name));
            yield return new("sawedge_delivery_trouble", "1 while a consumer's server cannot be reached or refuses everything, otherwise 0.", false, inTrouble ? 1 : 0, ("kind", kind), ("consumer", name));
        }

        foreach (var (destination, standing) in standings.All.OrderBy(one => one.Key, StringComparer.Ordinal))
        {
            (string, string)[] labels = [("kind", "influx"), ("consumer", destination)];
            yield return new("sawedge_delivery_waiting_entries", "Rows of the history that wait for a destination, of all its lanes, counted every 10 s.", false, standing.Waiting, labels);
            yield return new("sawedge_delivery_lag_seconds", "How long the oldest of them has waited; 0 where none waits.", false, standings.LagOf(standing).TotalSeconds, labels);
            yield return new("sawedge_delivery_set_aside", "What a destination refused for good and nobody has dealt with: 'sawedge outbox list'.", false, standing.SetAside, labels);
            yield return new("sawedge_delivery_gone", "What was cleared away before a destination had it.", false, standing.Gone, labels);
        }

        if (keeping.Space is { } space)
        {
            yield return new("sawedge_history_bytes", "What the history's file takes on the disk, bytes.", false, space.Bytes);
            yield return new("sawedge_history_wal_bytes", "What the log beside the history's file takes on the disk, bytes.", false, space.LogBytes);
            yield return new("sawedge_history_budget_bytes", "What both may take, bytes.", false, keeping.BudgetBytes);
        }
    }
}
