using InfluxDB.Client.Writes;
using SawEdge.Core.Oee;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding;

/// <summary>Where the time of a saw's hour went, as a point of the measurement <c>oee</c>, in line protocol. Pure: the same hour gives the same line.</summary>
/// <remarks>
/// The time is the begin of the hour, so an hour that comes out differently later is the same point. There is no ratio among the fields: a
/// query sums numerators and denominators over whatever saws and time it wants, and divides then.
/// </remarks>
internal sealed class OeePointMapper
{
    /// <summary>Name of the measurement.</summary>
    public const string Measurement = "oee";

    private readonly string _site;
    private readonly string _gateway;

    /// <summary>A mapper for one gateway.</summary>
    public OeePointMapper(string site, string gateway)
    {
        _site = LineText.Tag(site);
        _gateway = LineText.Tag(gateway);
    }

    /// <summary>The line of an hour.</summary>
    public string ToLine(AccountHour hour)
    {
        var buckets = hour.Part.Buckets;
        var point = PointData.Builder.Measurement(Measurement).Tag("site", _site).Tag("gateway", _gateway).Tag("saw", LineText.Tag(hour.Saw));
        point.Field("planned_busy_s", buckets.PlannedBusyTime.TotalSeconds);
        point.Field("observed_s", buckets.Observed.TotalSeconds);
        point.Field("actual_production_s", buckets.ActualProductionTime.TotalSeconds);
        point.Field("planned_run_s", buckets.PlannedRunTime.TotalSeconds);
        point.Field("good_run_s", buckets.GoodRunTime.TotalSeconds);
        foreach (var bucket in Enum.GetValues<OeeBucket>())
            point.Field(bucket.ToName() + "_s", buckets[bucket].TotalSeconds);
        foreach (var beside in Enum.GetValues<OeeBeside>())
            point.Field(beside.ToName() + "_s", buckets[beside].TotalSeconds);
        point.Field("parts", buckets[OeeCount.Parts]);
        point.Field("scrap", buckets[OeeCount.Scrap]);
        point.Field("parts_outside", buckets[OeeCount.PartsOutside]);
        point.Field("parts_uncertain", buckets[OeeCount.Uncertain]);
        point.Field("parts_without_standard", buckets[OeeCount.WithoutStandard]);
        point.Field("trims", buckets[OeeCount.Trims]);
        point.Field("cuts_lost", buckets[OeeCount.Lost]);
        point.Timestamp(hour.Hour.From.ToUnixTimeMilliseconds(), PointMapper.Precision);
        return point.ToPointData().ToLineProtocol();
    }
}
