using InfluxDB.Client.Writes;
using SawEdge.Core.Oee;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding;

/// <summary>The states of a saw's hour as points of the measurement <c>state</c>, in line protocol. Pure: the same hour gives the same lines.</summary>
/// <remarks>
/// A point stands where a state begins, and holds until the next one of the saw. What a correction makes of it is the same point again; where a
/// begin turned out to be none, its point says what holds there.
/// </remarks>
internal sealed class StatePointMapper
{
    /// <summary>Name of the measurement.</summary>
    public const string Measurement = "state";

    private readonly string _site;
    private readonly string _gateway;

    /// <summary>A mapper for one gateway.</summary>
    public StatePointMapper(string site, string gateway)
    {
        _site = LineText.Tag(site);
        _gateway = LineText.Tag(gateway);
    }

    /// <summary>The lines of an hour.</summary>
    public IEnumerable<string> ToLines(AccountHour hour) => hour.Begins.Select(begin => ToLine(hour.Saw, begin));

    private string ToLine(string saw, StateBegin begin)
    {
        var point = PointData.Builder.Measurement(Measurement).Tag("site", _site).Tag("gateway", _gateway).Tag("saw", LineText.Tag(saw));

        // Fields that a point once had stay in a server unless they are written again: what is not known is an empty text here.
        point.Field("state", begin.State.ToName());
        point.Field("reason", LineText.Field(begin.Reason));
        point.Field("bucket", begin.Bucket?.ToName() ?? "");
        point.Timestamp(begin.At.ToUnixTimeMilliseconds(), PointMapper.Precision);
        return point.ToPointData().ToLineProtocol();
    }
}
