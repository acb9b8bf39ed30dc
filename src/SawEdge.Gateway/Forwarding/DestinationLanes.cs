using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding;

/// <summary>The lanes of a destination: one for each kind of points that it wants.</summary>
public static class DestinationLanes
{
    /// <summary>Builds them.</summary>
    /// <param name="destination">The destination.</param>
    /// <param name="site">Name of the plant, a tag.</param>
    /// <param name="gateway">Name of the gateway, a tag.</param>
    /// <param name="reader">Reads the history.</param>
    /// <param name="writer">Keeps their places.</param>
    /// <param name="names">Which reasons of stops have a tag value of their own; one for all destinations of a gateway.</param>
    public static IEnumerable<DestinationLane> Of(Destination destination, string site, string gateway, HistoryReader reader, HistoryWriter writer, StopNames names)
    {
        var wanted = destination.Options.Points;
        if ((wanted & (PointChoice.Cycles | PointChoice.Alarms)) != 0)
            yield return new JournalLane(destination, site, gateway, reader, writer);
        if ((wanted & PointChoice.Hours) != 0)
            yield return new HoursLane(destination, site, gateway, reader, writer, names);
        if (wanted.HasFlag(PointChoice.Profiles))
            yield return new ProfileLane(destination, site, gateway, reader, writer);
        if (wanted.HasFlag(PointChoice.Signals))
            yield return new SignalLane(destination, site, gateway, reader, writer);
        if (wanted.HasFlag(PointChoice.Gateway))
            yield return new HealthLane(destination, site, gateway, reader, writer);
    }
}
