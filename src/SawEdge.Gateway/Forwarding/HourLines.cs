using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding;

/// <summary>
/// The points of the hours in line protocol. The running hour of a saw changes each minute, most of its points do not: what was taken of the
/// latest hour of each saw is remembered and does not go again until the next start.
/// </summary>
/// <param name="site">Name of the plant, a tag.</param>
/// <param name="gateway">Name of the gateway, a tag.</param>
/// <param name="tagOf">The tag value of a reason of stops.</param>
/// <param name="choice">Which of states, figures and stops are wanted.</param>
internal sealed class HourLines(string site, string gateway, Func<string, string> tagOf, PointChoice choice)
{
    private readonly OeePointMapper _figures = new(site, gateway);
    private readonly StatePointMapper _states = new(site, gateway);
    private readonly StopPointMapper _stops = new(site, gateway, tagOf);
    private readonly Dictionary<string, (DateTimeOffset Hour, HashSet<string> Lines)> _taken = [];

    /// <summary>The lines of an hour that were not taken already.</summary>
    /// <param name="hour">The hour.</param>
    /// <param name="all">All its lines.</param>
    public IEnumerable<string> NewOf(AccountHour hour, IReadOnlyList<string> all) =>
        _taken.TryGetValue(hour.Saw, out var last) && last.Hour == hour.Hour.From ? all.Where(line => !last.Lines.Contains(line)) : all;

    /// <summary>The lines of an hour were taken.</summary>
    /// <param name="hour">The hour.</param>
    /// <param name="all">All its lines.</param>
    /// <param name="refused">Those of all hours that were not.</param>
    public void Taken(AccountHour hour, IReadOnlyList<string> all, IReadOnlySet<string> refused)
    {
        if (!_taken.TryGetValue(hour.Saw, out var last) || last.Hour <= hour.Hour.From)
            _taken[hour.Saw] = (hour.Hour.From, [.. all.Where(line => !refused.Contains(line))]);
    }

    /// <summary>All lines of an hour.</summary>
    public IReadOnlyList<string> All(AccountHour hour) =>
    [
        .. choice.HasFlag(PointChoice.Oee) ? [_figures.ToLine(hour)] : Array.Empty<string>(),
        .. choice.HasFlag(PointChoice.States) ? _states.ToLines(hour) : [],
        .. choice.HasFlag(PointChoice.Stops) ? _stops.ToLines(hour) : [],
    ];
}
