using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;

namespace SawEdge.Gateway.Hosting;

/// <summary>
/// Takes over what changed about the destinations in the configuration while the gateway runs, so that a wrong token or address is mended without
/// a restart. Which destinations there are, and what they are sent, holds from the next start on.
/// </summary>
/// <param name="file">The configuration file, for messages.</param>
/// <param name="destinations">The destinations.</param>
/// <param name="logger">Where it speaks.</param>
internal sealed class DestinationsAgain(string file, IReadOnlyList<Destination> destinations, ILogger logger)
{
    private readonly HashSet<string> _said = new(StringComparer.Ordinal);

    /// <summary>Takes them over.</summary>
    /// <param name="options">The configuration as it is now.</param>
    /// <param name="cancellation">Ends it.</param>
    public async Task TakeOverAsync(GatewayOptions options, CancellationToken cancellation)
    {
        foreach (var destination in destinations)
        {
            if (options.Influx.FirstOrDefault(influx => influx.Name == destination.Name) is not { } influx)
            {
                if (_said.Add(destination.Name))
                    HostingLog.DestinationGone(logger, destination.Name, file);
            }
            else
            {
                // Its lanes and what is kept for them are those of the start.
                if (influx.Points != destination.Options.Points && _said.Add(destination.Name + "/points"))
                    HostingLog.DestinationPoints(logger, destination.Name, file);
                var now = influx with { Points = destination.Options.Points };
                if (now == destination.Options)
                    continue;
                await destination.TakeOverAsync(now, cancellation);
                HostingLog.DestinationTaken(logger, destination.Name, destination.Server);
            }
        }

        foreach (var influx in options.Influx.Where(influx => !destinations.Any(destination => destination.Name == influx.Name) && _said.Add(influx.Name)))
            HostingLog.DestinationNew(logger, influx.Name, file);
    }
}
