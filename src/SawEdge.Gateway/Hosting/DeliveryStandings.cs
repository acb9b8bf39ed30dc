using System.Collections.Concurrent;
using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Hosting;

/// <summary>How much waits for each InfluxDB destination and since when, counted now and then.</summary>
/// <param name="reader">The history.</param>
/// <param name="destinations">The destinations.</param>
/// <param name="time">The wall clock.</param>
/// <param name="logger">Where it speaks.</param>
internal sealed class DeliveryStandings(HistoryReader reader, IReadOnlyList<Destination> destinations, TimeProvider time, ILogger logger)
{
    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(10);

    private readonly ConcurrentDictionary<string, (StoredOutbox Outbox, LanesWaiting Lanes)> _last = new(StringComparer.Ordinal);
    private bool _inTrouble;

    /// <summary>What waited for each destination when it was last counted, in the order of the configuration; those that were not counted yet are left out.</summary>
    public IEnumerable<(Destination Destination, StoredOutbox Outbox, LanesWaiting Lanes)> All
    {
        get
        {
            foreach (var destination in destinations)
            {
                if (_last.TryGetValue(destination.Name, out var last))
                    yield return (destination, last.Outbox, last.Lanes);
            }
        }
    }

    /// <summary>How long the oldest has waited; zero where nothing waits.</summary>
    public TimeSpan LagOf(StoredOutbox outbox) => outbox.OldestAt is { } oldest && time.GetUtcNow() - oldest is { Ticks: > 0 } lag ? lag : TimeSpan.Zero;

    /// <summary>All that waits for a destination of what it wants.</summary>
    public static long WaitingFor(Destination destination, StoredOutbox outbox, LanesWaiting lanes)
    {
        long Wanted(PointChoice choice, long count) => (destination.Options.Points & choice) != 0 ? count : 0;
        return Wanted(PointChoice.Cycles, outbox.Cycles) + Wanted(PointChoice.Alarms, outbox.AlarmEvents) + Wanted(PointChoice.Hours, outbox.Hours)
            + Wanted(PointChoice.Profiles, lanes.Profiles) + Wanted(PointChoice.Signals, lanes.Samples) + Wanted(PointChoice.Gateway, lanes.Reports);
    }

    /// <summary>Looks until cancelled.</summary>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    /// <exception cref="HistoryCorruptException">The history is damaged.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        using var look = new PeriodicTimer(LookEvery, time);
        do
            await LookAsync(cancellation);
        while (await look.WaitForNextTickAsync(cancellation));
    }

    private async Task LookAsync(CancellationToken cancellation)
    {
        try
        {
            foreach (var destination in destinations)
                _last[destination.Name] = (await reader.OutboxAsync(destination.Name, HoursLane.ConsumerOf(destination.Name), cancellation), await reader.LanesWaitingAsync(destination.Name, cancellation));
            _inTrouble = false;
        }
        catch (HistoryException e) when (e is not HistoryCorruptException)
        {
            if (!_inTrouble)
                HostingLog.StandingsUnread(logger, e.Message);
            _inTrouble = true;
        }
    }
}
