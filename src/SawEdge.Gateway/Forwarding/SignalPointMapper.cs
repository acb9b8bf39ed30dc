using System.Globalization;
using InfluxDB.Client.Writes;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding;

/// <summary>What the signals of a saw did in an interval as points of the measurement <c>signal</c>, in line protocol. Pure: the same sample gives the same lines.</summary>
/// <remarks>
/// A point a signal, named by a tag: the vocabulary bounds it. The time is the begin of the interval, so an interval that is stored again with more frames is
/// the same point. Its length is a tag, because around a change of the setting two intervals of different length may begin at the same moment.
/// Flags are 1 and 0; texts (mode, job) are not sampled, they stand in <c>cycle</c> and <c>state</c>, where they change.
/// </remarks>
internal sealed class SignalPointMapper
{
    /// <summary>Name of the measurement.</summary>
    public const string Measurement = "signal";

    private readonly string _site;
    private readonly string _gateway;

    /// <summary>A mapper for one gateway.</summary>
    public SignalPointMapper(string site, string gateway)
    {
        _site = LineText.Tag(site);
        _gateway = LineText.Tag(gateway);
    }

    /// <summary>The lines of a sample, one a signal that had a good value.</summary>
    public IEnumerable<string> ToLines(SawSample stored)
    {
        var sample = stored.Sample;
        for (var i = 0; i < SignalSample.Signals.Count; i++)
        {
            if (sample.Figures[i] is { Count: > 0 } figures)
                yield return ToLine(stored.Saw, SignalSample.Signals[i], sample, figures);
        }
    }

    private string ToLine(string saw, SignalInfo signal, in SignalSample sample, SignalFigures figures)
    {
        var point = PointData.Builder.Measurement(Measurement).Tag("site", _site).Tag("gateway", _gateway).Tag("saw", LineText.Tag(saw)).Tag("signal", signal.Name).Tag("interval_s", sample.Every.TotalSeconds.ToString(CultureInfo.InvariantCulture));
        point.Field("frames", (long)figures.Count);
        Number(point, "mean", figures.Mean);
        Number(point, "min", figures.Least);
        Number(point, "max", figures.Greatest);
        Number(point, "last", figures.Last);
        point.Timestamp(sample.From.ToUnixTimeMilliseconds(), PointMapper.Precision);
        return point.ToPointData().ToLineProtocol();
    }

    private static void Number(PointData.Builder point, string name, float value)
    {
        if (float.IsFinite(value))
            point.Field(name, ShortFloat.ToDouble(value));
    }
}
