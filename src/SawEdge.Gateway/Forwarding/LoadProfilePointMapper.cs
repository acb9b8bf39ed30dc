using System.Globalization;
using InfluxDB.Client.Writes;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Export;

namespace SawEdge.Gateway.Forwarding;

/// <summary>The load along the depth of a cut as points of the measurement <c>load_profile</c>, in line protocol. Pure: the same profile gives the same lines.</summary>
/// <remarks>
/// <para>A point is a bin. Its time is that of the cycle and a millisecond for each bin before it: whatever a correction moves within the cut, each
/// bin is the same point again, none is left behind, and a query gives the bins in order, which servers do not of points of one time. No two cycles of a saw
/// start so close together. The number of the bin is a tag, the only one besides those of <c>cycle</c>: it is bounded by the number of bins
/// that a profile has, and lets a query take the mean or the spread of each bin over many cuts.</para>
/// <para>The time leads from a cut to its profile, the job to the cuts that may be laid over one another.</para>
/// </remarks>
internal sealed class LoadProfilePointMapper
{
    /// <summary>Name of the measurement.</summary>
    public const string Measurement = "load_profile";

    private readonly string _site;
    private readonly string _gateway;

    /// <summary>A mapper for one gateway.</summary>
    public LoadProfilePointMapper(string site, string gateway)
    {
        _site = LineText.Tag(site);
        _gateway = LineText.Tag(gateway);
    }

    /// <summary>The lines of a cut, one a bin.</summary>
    public IEnumerable<string> ToLines(CycleRecord record, DepthProfile profile)
    {
        var elapsed = 0.0;
        for (var bin = 0; bin < profile.Seconds.Count; bin++)
        {
            var seconds = ShortFloat.ToDouble(profile.Seconds[bin]);
            yield return ToLine(record, profile, bin, seconds, elapsed + (seconds / 2));
            elapsed += seconds;
        }
    }

    private string ToLine(CycleRecord record, DepthProfile profile, int bin, double seconds, double elapsed)
    {
        var bins = (double)profile.Seconds.Count;

        // Of two digits, so that the series come in order where a query groups by them.
        var point = PointData.Builder.Measurement(Measurement).Tag("site", _site).Tag("gateway", _gateway).Tag("saw", LineText.Tag(record.Saw)).Tag("bin", (bin + 1).ToString("00", CultureInfo.InvariantCulture));
        point.Field("cycle_id", LineText.Field(record.CycleId));
        point.Field("outcome", record.Outcome.ToName());
        Text(point, "job", record.Job);
        Text(point, "material", record.Material);
        Text(point, "section", record.Section);
        Text(point, "blade", record.Blade);
        point.Field("basis", profile.Basis == ProfileBasis.Depth ? "depth" : "time");
        point.Field("from_share", bin / bins);
        point.Field("to_share", (bin + 1) / bins);
        Number(point, "depth_from_mm", profile.DepthMm * (bin / bins));
        Number(point, "depth_to_mm", profile.DepthMm * ((bin + 1) / bins));
        point.Field("time_s", seconds);
        point.Field("elapsed_s", elapsed);
        Number(point, "mean_load_kw", ShortFloat.ToDouble(profile.MeanLoadKw[bin]));
        Number(point, "mean_blade_speed_m_min", ShortFloat.ToDouble(profile.MeanBladeSpeedMMin[bin]));
        point.Timestamp(record.StartedAt.ToUnixTimeMilliseconds() + bin, PointMapper.Precision);
        return point.ToPointData().ToLineProtocol();
    }

    private static void Text(PointData.Builder point, string name, string text)
    {
        if (text.Length > 0)
            point.Field(name, LineText.Field(text));
    }

    private static void Number(PointData.Builder point, string name, double value)
    {
        if (double.IsFinite(value))
            point.Field(name, value);
    }
}
