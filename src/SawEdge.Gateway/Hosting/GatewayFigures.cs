using System.Collections.Concurrent;
using System.Reflection;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Notification;
using SawEdge.Gateway.Telemetry;

namespace SawEdge.Gateway.Hosting;

/// <summary>What is counted of a running gateway, for those who watch it. May be asked at any time; what is not there yet is left out.</summary>
internal sealed class GatewayFigures
{
    private readonly ConcurrentDictionary<(string Saw, CutOutcome Outcome), long> _cycles = new();
    private readonly ConcurrentDictionary<string, long> _missed = new(StringComparer.Ordinal);
    private readonly long _started = TimeProvider.System.GetTimestamp();

    /// <summary>The program's version.</summary>
    public static string Version { get; } = typeof(GatewayFigures).Assembly.GetCustomAttribute<AssemblyInformationalVersionAttribute>()?.InformationalVersion ?? "";

    /// <summary>The configuration, or null.</summary>
    public GatewayOptions? Options { get; set; }

    /// <summary>Where frames come in.</summary>
    public Func<IEnumerable<SawInbox>> Inboxes { get; set; } = () => [];

    /// <summary>What is heard of the saws.</summary>
    public Func<IEnumerable<SawPresence>> Presences { get; set; } = () => [];

    /// <summary>The counters of the saws that are polled, by their names.</summary>
    public Func<IReadOnlyDictionary<string, PollCounters>> Polls { get; set; } = () => new Dictionary<string, PollCounters>();

    /// <summary>The ways of the journal to its destinations.</summary>
    public IReadOnlyList<JournalLane> Lanes { get; set; } = [];

    /// <summary>The channels.</summary>
    public IReadOnlyList<ChannelLoop> Channels { get; set; } = [];

    /// <summary>What waits for the destinations, or null.</summary>
    public DeliveryStandings? Standings { get; set; }

    /// <summary>What the history takes on the disk, or null.</summary>
    public HistoryKeeping? Keeping { get; set; }

    /// <summary>The history, or null.</summary>
    public HistoryWriter? Writer { get; set; }

    /// <summary>Changes that wait for the alarms.</summary>
    public Func<int> AlarmsWaiting { get; set; } = () => 0;

    /// <summary>Whether something speaks against the clock.</summary>
    public Func<bool> ClockIsDoubtful { get; set; } = () => false;

    /// <summary>Whether a loop hangs.</summary>
    public Func<bool> Hangs { get; set; } = () => false;

    /// <summary>What the gateway does of two that watch the same saws in turns, or null.</summary>
    public Func<string?> Standby { get; set; } = () => null;

    /// <summary>Cycles that were left out, by saw, because they belong to the other of two gateways.</summary>
    public Func<IEnumerable<(string Saw, long Cycles)>> LeftOut { get; set; } = () => [];

    /// <summary>A cycle is on the disk.</summary>
    public void Finished(CycleRecord record) => _cycles.AddOrUpdate((record.Saw, record.Outcome), 1, (_, count) => count + 1);

    /// <summary>Cycles of a saw that came to the disk since the start.</summary>
    public long CyclesOf(string saw) => _cycles.Where(pair => pair.Key.Saw == saw).Sum(pair => pair.Value);

    /// <summary>The figures as they are now.</summary>
    /// <param name="journal">How far the journal reaches.</param>
    public IEnumerable<Metric> Read(long journal) => [.. OfTheProcess(), .. OfTheSaws(), .. OfTheHistory(journal), .. OfDeliveries(journal)];

    /// <summary>All figures of a gateway, those of the API included; or why they cannot be read.</summary>
    /// <exception cref="HistoryCorruptException">The history is damaged.</exception>
    public static async Task<(IReadOnlyList<Metric>? Figures, string Trouble)> MeasureAsync(ApiContext context, CancellationToken cancellation)
    {
        try
        {
            return (await GatewayRoutes.MeasureAsync(context, cancellation), "");
        }
        catch (HistoryException e) when (e is not HistoryCorruptException)
        {
            return (null, e.Message);
        }
    }

    private IEnumerable<Metric> OfTheProcess()
    {
        if (Options is { } options)
            yield return new(KnownMetrics.Info, 1, Version, options.Site, options.Gateway);
        yield return new(KnownMetrics.Uptime, TimeProvider.System.GetElapsedTime(_started).TotalSeconds);
        yield return new(KnownMetrics.Processor, Environment.CpuUsage.TotalTime.TotalSeconds);
        yield return new(KnownMetrics.Memory, Environment.WorkingSet);
        yield return new(KnownMetrics.Heap, GC.GetTotalMemory(forceFullCollection: false));
        yield return new(KnownMetrics.ClockDoubtful, ClockIsDoubtful() ? 1 : 0);
        yield return new(KnownMetrics.Hanging, Hangs() ? 1 : 0);
        if (Standby() is { } standby)
            yield return new(KnownMetrics.Watching, standby is "active" or "yielding" ? 1 : 0);
    }

    private IEnumerable<Metric> OfTheSaws()
    {
        var polls = Polls();
        foreach (var inbox in Inboxes())
        {
            yield return new(KnownMetrics.Frames, inbox.Offered, inbox.Saw);
            yield return new(KnownMetrics.FramesLost, inbox.Lost, inbox.Saw);
            yield return new(KnownMetrics.FramesWaiting, inbox.Waiting, inbox.Saw);
            if (polls.TryGetValue(inbox.Saw, out var polled))
            {
                yield return new(KnownMetrics.Polls, polled.Polls, inbox.Saw);

                // What counted as missed and was made after all is taken back; a counter must not fall.
                yield return new(KnownMetrics.PollsMissed, _missed.AddOrUpdate(inbox.Saw, polled.Misses, (_, before) => Math.Max(before, polled.Misses)), inbox.Saw);
                yield return new(KnownMetrics.PollLateness, polled.Lateness.TotalSeconds, inbox.Saw);
            }

            foreach (var kind in Enum.GetValues<SourceError>())
                yield return new(KnownMetrics.Errors, inbox.Errors.Of(kind), inbox.Saw, kind.ToString().ToLowerInvariant());
        }

        foreach (var presence in Presences())
            yield return new(KnownMetrics.Silence, presence.Silence.Seconds, presence.Saw);
        foreach (var ((saw, outcome), count) in _cycles.OrderBy(pair => pair.Key))
            yield return new(KnownMetrics.Cycles, count, saw, outcome.ToName());
        if (Standby() is not null)
        {
            foreach (var (saw, cycles) in LeftOut())
                yield return new(KnownMetrics.CyclesLeftOut, cycles, saw);
        }
    }

    private IEnumerable<Metric> OfTheHistory(long journal)
    {
        yield return new(KnownMetrics.Journal, journal);
        yield return new(KnownMetrics.AlarmsWaiting, AlarmsWaiting());
        if (Writer is { } writer)
        {
            yield return new(KnownMetrics.HistoryTrouble, writer.InTrouble ? 1 : 0);
            yield return new(KnownMetrics.HistoryWaiting, writer.Waiting);
            yield return new(KnownMetrics.HistoryTransactions, writer.Transactions);
        }

        if (Keeping is { Space: { } space } keeping)
        {
            yield return new(KnownMetrics.HistoryBytes, space.Bytes);
            yield return new(KnownMetrics.HistoryLogBytes, space.LogBytes);
            yield return new(KnownMetrics.HistoryBudget, keeping.BudgetBytes);
        }

        if (Options is { } options && FreeOf(options.DataFolder) is { } free)
            yield return new(KnownMetrics.DiskFree, free);
    }

    private IEnumerable<Metric> OfDeliveries(long journal)
    {
        foreach (var lane in Lanes)
        {
            foreach (var metric in Of("influx", lane.Name, journal - lane.Cursor, lane.Destination.InTrouble, lane.Destination.Counts))
                yield return metric;
            yield return new(KnownMetrics.DeliveryPoints, lane.Destination.Counts.Points, "influx", lane.Name);
        }

        foreach (var metric in Channels.SelectMany(channel => Of("channel", channel.Name, journal - channel.Cursor, channel.InTrouble, channel.Counts)))
            yield return metric;
        if (Standings is not { } standings)
            yield break;
        foreach (var (destination, standing) in standings.All.OrderBy(one => one.Key, StringComparer.Ordinal))
        {
            yield return new(KnownMetrics.DeliveryWaiting, standing.Waiting, "influx", destination);
            yield return new(KnownMetrics.DeliveryLag, standings.LagOf(standing).TotalSeconds, "influx", destination);
            yield return new(KnownMetrics.DeliverySetAside, standing.SetAside, "influx", destination);
            yield return new(KnownMetrics.DeliveryGone, standing.Gone, "influx", destination);
        }
    }

    private static IEnumerable<Metric> Of(string kind, string name, long lag, bool inTrouble, DeliveryCounts counts) =>
    [
        new(KnownMetrics.DeliveryLagEntries, Math.Max(0, lag), kind, name),
        new(KnownMetrics.DeliveryTrouble, inTrouble ? 1 : 0, kind, name),
        new(KnownMetrics.DeliveryTries, counts.Tries, kind, name),
        new(KnownMetrics.DeliveryFailures, counts.Failures, kind, name),
    ];

    // Not known: whether the disk takes what is written is told by another figure.
    private static double? FreeOf(string folder)
    {
        try
        {
            return new DriveInfo(Path.GetFullPath(folder)).AvailableFreeSpace;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or ArgumentException)
        {
            return null;
        }
    }
}
