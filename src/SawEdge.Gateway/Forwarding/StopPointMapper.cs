using InfluxDB.Client.Writes;
using SawEdge.Core.Oee;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding;

/// <summary>How long a saw stood in an hour for each reason, as points of the measurement <c>stop</c>, in line protocol. Pure: the same hour gives the same lines.</summary>
/// <remarks>
/// The time is the begin of the hour. Class and reason are tags, because InfluxQL sums by tags only; <see cref="StopNames"/> bounds their number.
/// A reason that does not hold any more is the same point with 0.
/// </remarks>
internal sealed class StopPointMapper
{
    /// <summary>Name of the measurement.</summary>
    public const string Measurement = "stop";

    private readonly string _site;
    private readonly string _gateway;
    private readonly Func<string, string> _tagOf;

    /// <summary>A mapper for one gateway.</summary>
    /// <param name="site">Name of the plant.</param>
    /// <param name="gateway">Name of the gateway.</param>
    /// <param name="tagOf">The tag value of a reason.</param>
    public StopPointMapper(string site, string gateway, Func<string, string> tagOf)
    {
        _site = LineText.Tag(site);
        _gateway = LineText.Tag(gateway);
        _tagOf = tagOf;
    }

    /// <summary>The lines of an hour.</summary>
    public IEnumerable<string> ToLines(AccountHour hour) => hour.Part.Buckets.Stops
        .Concat(hour.FormerStops.Select(stop => new StopTime(stop.Class, stop.Reason, TimeSpan.Zero)))
        .GroupBy(stop => (stop.Class, Reason: _tagOf(stop.Reason)))
        .Select(same => ToLine(hour, same.Key.Class, same.Key.Reason, same.Sum(stop => stop.Time.Ticks)));

    // Reasons that are the same as tags are one point.
    private string ToLine(AccountHour hour, StopClass stop, string reason, long ticks)
    {
        var point = PointData.Builder.Measurement(Measurement).Tag("site", _site).Tag("gateway", _gateway).Tag("saw", LineText.Tag(hour.Saw)).Tag("class", stop.ToName()).Tag("reason", reason);
        point.Field("time_s", new TimeSpan(ticks).TotalSeconds);
        point.Timestamp(hour.Hour.From.ToUnixTimeMilliseconds(), PointMapper.Precision);
        return point.ToPointData().ToLineProtocol();
    }
}
