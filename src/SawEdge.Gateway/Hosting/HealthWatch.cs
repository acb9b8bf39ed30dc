using System.Diagnostics;
using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Hosting;

/// <summary>Where the frames of a saw come in, and what is counted there.</summary>
/// <param name="Inbox">Where they come in.</param>
/// <param name="Presence">What is heard of the saw.</param>
/// <param name="Polls">What polling it came to; null where it is not polled.</param>
internal sealed record SawFeed(SawInbox Inbox, SawPresence Presence, PollCounters? Polls);

/// <summary>
/// Looks at how the gateway itself is, once a minute, and stores that, so that a destination that was away is told later how it was meanwhile.
/// </summary>
internal sealed class HealthWatch
{
    /// <summary>Time between two looks.</summary>
    public static readonly TimeSpan LookEvery = TimeSpan.FromMinutes(1);

    /// <summary>Time from the start to the first look: whoever sets a gateway up sees it soon.</summary>
    public static readonly TimeSpan First = TimeSpan.FromSeconds(10);

    private readonly GatewayOptions _options;
    private readonly HistoryReader _reader;
    private readonly HistoryWriter _writer;
    private readonly GatewayClocks _clocks;
    private readonly ILogger _logger;
    private readonly long _started;
    private readonly Dictionary<string, SawCounts> _before = new(StringComparer.Ordinal);
    private TimeSpan _processor;
    private long _looked;

    /// <summary>Prepares it; counts begin here.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="reader">The history.</param>
    /// <param name="writer">Stores the reports.</param>
    /// <param name="clocks">The clocks.</param>
    /// <param name="logger">Where it speaks.</param>
    public HealthWatch(GatewayOptions options, HistoryReader reader, HistoryWriter writer, GatewayClocks clocks, ILogger logger)
    {
        (_options, _reader, _writer, _clocks, _logger) = (options, reader, writer, clocks, logger);
        _started = _looked = clocks.Machine.GetTimestamp();
        _processor = Environment.CpuUsage.TotalTime;
    }

    /// <summary>The saws that run.</summary>
    public required Func<IEnumerable<SawFeed>> Saws { get; init; }

    /// <summary>Cycles of a saw that were stored since the start.</summary>
    public required Func<string, long> CyclesOf { get; init; }

    /// <summary>What the history takes of its budget; NaN where that is not known.</summary>
    public required Func<double> BudgetShare { get; init; }

    /// <summary>What the gateway does of two that watch the same saws in turns, or null.</summary>
    public Func<string?> Standby { get; init; } = () => null;

    /// <summary>The lanes of all destinations.</summary>
    public required IReadOnlyList<DestinationLane> Lanes { get; init; }

    /// <summary>Looks until cancelled.</summary>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    /// <exception cref="HistoryCorruptException">The history is damaged.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        using var look = new PeriodicTimer(First, _clocks.Machine);
        var inTrouble = false;
        while (await look.WaitForNextTickAsync(cancellation))
        {
            look.Period = LookEvery;
            try
            {
                await _writer.SaveHealthAsync(await LookAsync(cancellation), cancellation);
                inTrouble = false;
            }
            catch (HistoryException e) when (e is not HistoryCorruptException)
            {
                if (!inTrouble)
                    HostingLog.HealthUnread(_logger, e.Message);
                inTrouble = true;
            }
        }
    }

    /// <summary>Looks once. Counts are those since the look before.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public async Task<HealthReport> LookAsync(CancellationToken cancellation)
    {
        var space = await _reader.SpaceAsync(cancellation);
        var standings = await _reader.StandingsAsync(Lanes.GroupBy(lane => lane.Destination.Name).ToDictionary(group => group.Key, group => (IReadOnlyList<string>)[.. group.Select(lane => lane.Name)], StringComparer.Ordinal), cancellation);
        var now = _clocks.Machine.GetTimestamp();
        var interval = _clocks.Machine.GetElapsedTime(_looked, now).TotalSeconds;
        _looked = now;
        var processor = Environment.CpuUsage.TotalTime;
        var used = processor - _processor;
        _processor = processor;
        return new HealthReport(DateTimeOffset.FromUnixTimeMilliseconds(_clocks.Machine.GetUtcNow().ToUnixTimeMilliseconds()), interval)
        {
            UptimeS = _clocks.Machine.GetElapsedTime(_started, now).TotalSeconds,
            ProcessorS = used.TotalSeconds,
            MemoryBytes = Environment.WorkingSet,
            HeapBytes = GC.GetTotalMemory(forceFullCollection: false),
            HistoryBytes = space.Pages * space.PageBytes,
            LogBytes = Try(() => new FileInfo(Path.Combine(_options.DataFolder, HistoryDatabase.FileName + "-wal")) is { Exists: true, Length: var length } ? length : 0),
            BudgetShare = BudgetShare() is var share && double.IsFinite(share) ? share : null,
            DiskFreeBytes = Try(() => new DriveInfo(Path.GetFullPath(_options.DataFolder)).AvailableFreeSpace),
            HistoryInTrouble = _writer.InTrouble,
            Standby = Standby(),
            JournalEnd = _writer.Journal.Last,
            Saws = [.. Saws().Select(Of)],
            Destinations = [.. Lanes.Select(lane => lane.Destination).Distinct().Select(destination => Of(destination, standings[destination.Name]))],
        };
    }

    private SawHealth Of(SawFeed feed)
    {
        var (inbox, polls, saw) = (feed.Inbox, feed.Polls, feed.Inbox.Saw);
        var counts = new SawCounts(inbox.Offered, inbox.Lost, polls?.Misses ?? 0, polls?.Errors ?? 0, CyclesOf(saw));
        var before = _before.GetValueOrDefault(saw);

        // One that was begun anew counts anew; its cycles are counted elsewhere.
        if (counts.Frames < before.Frames)
            before = new SawCounts(0, 0, 0, 0, before.Cycles);
        _before[saw] = counts;
        return new SawHealth(saw)
        {
            Frames = counts.Frames - before.Frames,
            Lost = counts.Lost - before.Lost,
            // What counted as missed and was made after all is taken back.
            Missed = polls is null ? null : Math.Max(0, counts.Missed - before.Missed),
            Errors = polls is null ? null : counts.Errors - before.Errors,
            Cycles = counts.Cycles - before.Cycles,
            Waiting = inbox.Waiting,
            SilenceS = feed.Presence.Silence.Seconds,
        };
    }

    private DestinationReport Of(Destination destination, DestinationStanding standing) => new(destination.Name)
    {
        Waiting = standing.Waiting,
        LagS = standing.OldestAt is { } oldest ? Math.Max(0, (_clocks.Wall.GetUtcNow() - oldest).TotalSeconds) : 0,
        SetAside = standing.SetAside,
        Gone = standing.Gone,
        InTrouble = destination.IsTroubleKnown ? destination.InTrouble : null,
    };

    // Not known: whether the disk takes what is written is said elsewhere.
    private static long? Try(Func<long> look)
    {
        try
        {
            return look();
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or ArgumentException)
        {
            return null;
        }
    }

    /// <summary>Counters of a saw as they stood.</summary>
    private readonly record struct SawCounts(long Frames, long Lost, long Missed, long Errors, long Cycles);
}
