using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Hosting;

/// <summary>Which destinations are to have what before it is cleared away.</summary>
/// <param name="Samples">Those that are sent signals.</param>
/// <param name="Health">Those that are sent the gateway's health.</param>
/// <param name="Profiles">Those that are sent profiles.</param>
internal sealed record HistoryTakers(Takers Samples, Takers Health, IReadOnlyCollection<string> Profiles)
{
    /// <summary>Nobody.</summary>
    public static HistoryTakers None { get; } = new(Takers.None, Takers.None, []);

    /// <summary>Those of a configuration.</summary>
    public static HistoryTakers Of(IEnumerable<InfluxOptions> destinations)
    {
        var all = destinations.ToList();
        string[] Of(PointChoice choice, string lane) => [.. all.Where(destination => destination.Points.HasFlag(choice)).Select(destination => destination.Name + lane)];
        return new HistoryTakers(new Takers(Of(PointChoice.Signals, Lanes.Signals)), new Takers(Of(PointChoice.Gateway, Lanes.Gateway)), Of(PointChoice.Profiles, Lanes.Profiles));
    }
}
