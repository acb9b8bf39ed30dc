using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Hosting;

/// <summary>How much waits for each InfluxDB destination and since when, counted now and then.</summary>
/// <param name="reader">The history.</param>
/// <param name="lanes">The lanes of all destinations.</param>
/// <param name="time">The wall clock.</param>
/// <param name="logger">Where it speaks.</param>
internal sealed class DeliveryStandings(HistoryReader reader, IReadOnlyList<DestinationLane> lanes, TimeProvider time, ILogger logger)
{
    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(10);

    private readonly IReadOnlyDictionary<string, IReadOnlyList<string>> _lanes =
        lanes.GroupBy(lane => lane.Destination.Name, lane => lane.Name, StringComparer.Ordinal).ToDictionary(group => group.Key, group => (IReadOnlyList<string>)[.. group], StringComparer.Ordinal);

    private IReadOnlyDictionary<string, DestinationStanding> _last = new Dictionary<string, DestinationStanding>();
    private bool _inTrouble;

    /// <summary>What waited for each destination when it was last counted, by its name; empty before.</summary>
    public IReadOnlyDictionary<string, DestinationStanding> All => Volatile.Read(ref _last);

    /// <summary>How long the oldest has waited; zero where nothing waits.</summary>
    public TimeSpan LagOf(DestinationStanding standing) => standing.OldestAt is { } oldest && time.GetUtcNow() - oldest is { Ticks: > 0 } lag ? lag : TimeSpan.Zero;

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
            Volatile.Write(ref _last, await reader.StandingsAsync(_lanes, cancellation));
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
