using SawEdge.Core.Oee;
using SawEdge.Gateway.Accounts;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.Accounts;

namespace SawEdge.Gateway.Tests.Forwarding.Dashboards;

/// <summary>The begins of states as the timeline of the API has them.</summary>
internal static class StateBegins
{
    /// <summary>Of each saw, in order. The first stretch of a timeline begins with the question: it is asked from earlier on.</summary>
    public static async Task<IReadOnlyDictionary<string, IReadOnlyList<StateBegin>>> OfAsync(MadeBay bay, Period period, IReadOnlyList<string> saws)
    {
        var begins = new Dictionary<string, IReadOnlyList<StateBegin>>();
        foreach (var saw in saws)
        {
            var line = await TimelineAsync(bay, saw, new Period(period.From.AddHours(-1), period.To));
            begins[saw] = [.. line.Skip(1).Where(stretch => stretch.Time.From >= period.From && stretch.Time.From < period.To).Select(Of).GroupBy(begin => begin.At).Select(same => same.Last())];
        }

        return begins;
    }

    /// <summary>The stretches of a saw.</summary>
    public static async Task<IReadOnlyList<TimelineStretch>> TimelineAsync(MadeBay bay, string saw, Period period) =>
        (await bay.Oee.TimelineAsync(bay.Options.Saws.Single(options => options.Name == saw), period)).States;

    /// <summary>A stretch as it is told.</summary>
    public static StateBegin Of(TimelineStretch stretch) => new(DateTimeOffset.FromUnixTimeMilliseconds(stretch.Time.From.ToUnixTimeMilliseconds()), stretch.State, stretch.Reason, stretch.Bucket);
}
