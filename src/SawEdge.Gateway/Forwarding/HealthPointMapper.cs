using InfluxDB.Client.Writes;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding;

/// <summary>
/// The gateway's own health as points of the measurements <c>gateway</c>, <c>gateway_saw</c> and <c>gateway_destination</c>, in line protocol. Pure: the
/// same report gives the same lines.
/// </summary>
/// <remarks>
/// Counts are those of the interval that ends at the point's time, so a query sums them up and needs to know nothing of restarts. Tags come from
/// the configuration alone.
/// </remarks>
internal sealed class HealthPointMapper
{
    /// <summary>Name of the measurement about the gateway as a whole.</summary>
    public const string Measurement = "gateway";

    /// <summary>Name of the measurement about the data of each saw.</summary>
    public const string OfSaw = "gateway_saw";

    /// <summary>Name of the measurement about each destination.</summary>
    public const string OfDestination = "gateway_destination";

    private readonly string _site;
    private readonly string _gateway;

    /// <summary>A mapper for one gateway.</summary>
    public HealthPointMapper(string site, string gateway)
    {
        _site = LineText.Tag(site);
        _gateway = LineText.Tag(gateway);
    }

    /// <summary>The lines of a report: the gateway's own first.</summary>
    public IEnumerable<string> ToLines(HealthReport report) =>
        report.Saws.Select(saw => ToLine(report, saw)).Concat(report.Destinations.Select(destination => ToLine(report, destination))).Prepend(ToLine(report));

    private string ToLine(HealthReport report)
    {
        var point = Begin(Measurement);
        point.Field("interval_s", report.IntervalS);
        point.Field("uptime_s", report.UptimeS);
        point.Field("processor_s", report.ProcessorS);
        point.Field("memory_bytes", report.MemoryBytes);
        point.Field("heap_bytes", report.HeapBytes);
        Whole(point, "history_bytes", report.HistoryBytes);
        Whole(point, "history_log_bytes", report.LogBytes);
        if (report.BudgetShare is { } share && double.IsFinite(share))
            point.Field("history_budget_share", share);
        Whole(point, "disk_free_bytes", report.DiskFreeBytes);
        point.Field("history_trouble", report.HistoryInTrouble ? 1L : 0L);
        point.Field("journal_entries", report.JournalEnd);
        point.Field("saws", (long)report.Saws.Count);
        point.Field("saws_heard", (long)report.Saws.Count(saw => saw.SilenceS < report.IntervalS));
        point.Field("frames", report.Saws.Sum(saw => saw.Frames));
        point.Field("frames_lost", report.Saws.Sum(saw => saw.Lost));
        point.Field("frames_waiting", report.Saws.Sum(saw => saw.Waiting));
        point.Field("polls_missed", report.Saws.Sum(saw => saw.Missed ?? 0));
        point.Field("request_errors", report.Saws.Sum(saw => saw.Errors ?? 0));
        point.Field("cycles", report.Saws.Sum(saw => saw.Cycles));
        return End(point, report);
    }

    private string ToLine(HealthReport report, SawHealth saw)
    {
        var point = Begin(OfSaw).Tag("saw", LineText.Tag(saw.Saw));
        point.Field("interval_s", report.IntervalS);
        point.Field("frames", saw.Frames);
        point.Field("frames_lost", saw.Lost);
        point.Field("frames_waiting", saw.Waiting);
        Whole(point, "polls_missed", saw.Missed);
        Whole(point, "request_errors", saw.Errors);
        point.Field("cycles", saw.Cycles);
        point.Field("silence_s", saw.SilenceS);
        return End(point, report);
    }

    private string ToLine(HealthReport report, DestinationReport destination)
    {
        var point = Begin(OfDestination).Tag("destination", LineText.Tag(destination.Destination));
        point.Field("interval_s", report.IntervalS);
        Whole(point, "waiting", destination.Waiting);
        if (destination.LagS is { } lag)
            point.Field("lag_s", lag);
        Whole(point, "set_aside", destination.SetAside);
        Whole(point, "gone", destination.Gone);
        if (destination.InTrouble is { } trouble)
            point.Field("trouble", trouble ? 1L : 0L);
        return End(point, report);
    }

    private PointData.Builder Begin(string measurement) => PointData.Builder.Measurement(measurement).Tag("site", _site).Tag("gateway", _gateway);

    private static string End(PointData.Builder point, HealthReport report)
    {
        point.Timestamp(report.At.ToUnixTimeMilliseconds(), PointMapper.Precision);
        return point.ToPointData().ToLineProtocol();
    }

    private static void Whole(PointData.Builder point, string name, long? value)
    {
        if (value is { } whole)
            point.Field(name, whole);
    }
}
