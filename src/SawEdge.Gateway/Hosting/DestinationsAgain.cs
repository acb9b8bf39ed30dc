using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;

namespace SawEdge.Gateway.Hosting;

/// <summary>
/// Takes over what changed about the destinations in the configuration while the gateway runs, so that a wrong token or address is mended without
/// a restart. A file with mistakes changes nothing, and that is said once; all else in it holds from the next start on.
/// </summary>
/// <param name="configuration">The file.</param>
/// <param name="destinations">The destinations.</param>
/// <param name="time">The clock of the looks.</param>
/// <param name="logger">Where it speaks.</param>
internal sealed class DestinationsAgain(WatchedConfiguration configuration, IReadOnlyList<Destination> destinations, TimeProvider time, ILogger logger)
{
    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(2);

    private readonly HashSet<string> _said = new(StringComparer.Ordinal);
    private bool _isWrong;

    /// <summary>Told of each configuration without mistakes that is read, or null.</summary>
    public Action<GatewayOptions>? OnTaken { get; init; }

    /// <summary>Looks until cancelled.</summary>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        using var look = new PeriodicTimer(LookEvery, time);
        while (await look.WaitForNextTickAsync(cancellation))
            await LookAsync(cancellation);
    }

    private async Task LookAsync(CancellationToken cancellation)
    {
        if (configuration.LookAgain() is not { } loaded)
            return;
        if (loaded.Options is not { } options)
        {
            var first = loaded.Errors.First();
            HostingLog.ConfigurationNotTaken(logger, configuration.Path, first.ToString(), loaded.Errors.Count());
            _isWrong = true;
            return;
        }

        if (_isWrong)
            HostingLog.ConfigurationGoodAgain(logger, configuration.Path);
        _isWrong = false;
        OnTaken?.Invoke(options);
        foreach (var destination in destinations)
        {
            if (options.Influx.FirstOrDefault(influx => influx.Name == destination.Name) is not { } influx)
            {
                if (_said.Add(destination.Name))
                    HostingLog.DestinationGone(logger, destination.Name, configuration.Path);
            }
            else
            {
                // Its lanes and what is kept for them are those of the start.
                if (influx.Points != destination.Options.Points && _said.Add(destination.Name + "/points"))
                    HostingLog.DestinationPoints(logger, destination.Name, configuration.Path);
                var now = influx with { Points = destination.Options.Points };
                if (now == destination.Options)
                    continue;
                await destination.TakeOverAsync(now, cancellation);
                HostingLog.DestinationTaken(logger, destination.Name, destination.Server);
            }
        }

        foreach (var influx in options.Influx.Where(influx => !destinations.Any(destination => destination.Name == influx.Name) && _said.Add(influx.Name)))
            HostingLog.DestinationNew(logger, influx.Name, configuration.Path);
    }
}
