using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.History;
using Row = System.Collections.Generic.IReadOnlyDictionary<string, System.Text.Json.JsonElement>;

namespace SawEdge.Gateway.Tests.Forwarding.Dashboards;

/// <summary>What the history says of profiles and of the gateway's health.</summary>
/// <param name="Site">Name of the site.</param>
/// <param name="Gateway">Name of the gateway.</param>
/// <param name="Job">The chosen job.</param>
/// <param name="Per">The chosen width of the bars.</param>
/// <param name="Cuts">Cycles of the chosen saw in the chosen time with their profiles, in order.</param>
/// <param name="Jobs">All jobs of the saw.</param>
/// <param name="Reports">Reports in the chosen time, in order.</param>
internal sealed record ExpectedPoints(string Site, string Gateway, string Job, TimeSpan Per, IReadOnlyList<(CycleRecord Cycle, DepthProfile Profile)> Cuts, IReadOnlyCollection<string> Jobs, IReadOnlyList<HealthReport> Reports);

/// <summary>Of each query on profiles and on the gateway's health what it must answer.</summary>
internal static class PointChecks
{
    public static IReadOnlyDictionary<string, Action<IReadOnlyList<Row>, ExpectedPoints>> All { get; } = new Dictionary<string, Action<IReadOnlyList<Row>, ExpectedPoints>>
    {
        ["sawedge-saw/$job"] = (rows, e) => Assert.Equal(e.Jobs.Order(), rows.Select(row => row["distinct"].GetString()!).Order()),
        ["sawedge-saw/Load along the depth, last cut"] = (rows, e) => Bins(rows, e.Cuts.TakeLast(1)),
        ["sawedge-saw/Load along the depth, cuts of one job"] = (rows, e) => Bins(rows, e.Cuts.Where(cut => cut.Cycle.Job == e.Job)),
        ["sawedge-saw/Load in each part of the depth"] = Spread,

        ["sawedge-gateway/$site"] = (rows, e) => Assert.Equal([e.Site], rows.Select(row => row["value"].GetString())),
        ["sawedge-gateway/$gateway"] = (rows, e) => Assert.Equal([e.Gateway], rows.Select(row => row["value"].GetString())),
        ["sawedge-gateway/Frames a second"] = (rows, e) => Expected.Groups(rows, "frames", row => (Expected.Text(row, "saw"), Time(row)), OfSaws(e), one => (one.Saw.Saw, Bar(e, one.Report)), of => of.Sum(one => (double)one.Saw.Frames) / of.Sum(one => one.Report.IntervalS)),
        ["sawedge-gateway/Trouble with the data"] = (rows, e) =>
        {
            Sums(rows, e, "polls missed", of => of.Sum(report => report.Saws.Sum(saw => saw.Missed ?? 0)));
            Sums(rows, e, "request errors", of => of.Sum(report => report.Saws.Sum(saw => saw.Errors ?? 0)));
            Sums(rows, e, "frames lost", of => of.Sum(report => report.Saws.Sum(saw => saw.Lost)));
        },
        ["sawedge-gateway/Saws that are heard"] = (rows, e) =>
        {
            Sums(rows, e, "heard", of => of.Min(report => report.Saws.Count(saw => saw.SilenceS < report.IntervalS)));
            Sums(rows, e, "configured", of => of.Max(report => report.Saws.Count));
        },
        ["sawedge-gateway/Waiting for each destination"] = (rows, e) => OfDestinations(rows, e, "waiting", one => one.Waiting),
        ["sawedge-gateway/Oldest that waits"] = (rows, e) => OfDestinations(rows, e, "lag", one => one.LagS),
        ["sawedge-gateway/Memory"] = (rows, e) =>
        {
            Sums(rows, e, "process", of => of.Max(report => report.MemoryBytes));
            Sums(rows, e, "objects", of => of.Max(report => report.HeapBytes));
        },
        ["sawedge-gateway/Processor"] = (rows, e) => Sums(rows, e, "share", of => of.Sum(report => report.ProcessorS) / of.Sum(report => report.IntervalS)),
        ["sawedge-gateway/Disk"] = (rows, e) =>
        {
            Sums(rows, e, "history", of => of.Max(report => report.HistoryBytes!.Value));
            Sums(rows, e, "log", of => of.Max(report => report.LogBytes!.Value));
            Sums(rows, e, "free", of => of.Min(report => report.DiskFreeBytes!.Value));
        },
        ["sawedge-gateway/Destinations"] = (rows, e) => Expected.Table(
            [.. rows.OrderBy(row => Expected.Text(row, "destination"), StringComparer.Ordinal)],
            e.Reports[^1].Destinations.Where(one => one.Waiting is not null).OrderBy(one => one.Destination, StringComparer.Ordinal),
            ("destination", one => one.Destination),
            ("waiting", one => one.Waiting),
            ("lag_s", one => one.LagS),
            ("set_aside", one => one.SetAside),
            ("gone", one => one.Gone),
            ("trouble", one => one.InTrouble is { } trouble ? trouble ? 1 : 0 : null)),
    };

    // The newest first; a bin without load has no value there.
    private static void Bins(IReadOnlyList<Row> rows, IEnumerable<(CycleRecord Cycle, DepthProfile Profile)> cuts) => Expected.Table(
        rows,
        cuts.SelectMany(cut => Enumerable.Range(0, cut.Profile.Seconds.Count), (cut, bin) => (cut.Profile, Bin: bin, At: cut.Cycle.StartedAt.ToUnixTimeMilliseconds() + bin)).OrderByDescending(bin => bin.At),
        ("time", bin => bin.At),
        ("depth_to_mm", bin => bin.Profile.DepthMm * ((bin.Bin + 1) / (double)bin.Profile.Seconds.Count)),
        ("mean_load_kw", bin => (double)bin.Profile.MeanLoadKw[bin.Bin]));

    private static void Spread(IReadOnlyList<Row> rows, ExpectedPoints e)
    {
        var loads = e.Cuts.Where(cut => cut.Cycle.Job == e.Job && cut.Cycle.Outcome == CutOutcome.Completed)
            .SelectMany(cut => cut.Profile.MeanLoadKw.Select((load, bin) => (Bin: (bin + 1).ToString("00", System.Globalization.CultureInfo.InvariantCulture), Load: (double)load)))
            .Where(one => double.IsFinite(one.Load)).ToList();
        foreach (var (column, value) in new (string, Func<IEnumerable<double>, double>)[] { ("mean", all => all.Average()), ("low", all => Rank(all, 0.1)), ("high", all => Rank(all, 0.9)) })
            Expected.Groups(rows, column, row => Expected.Text(row, "bin"), loads, one => one.Bin, of => value(of.Select(one => one.Load)));
    }

    // As the server picks it: Expected.Median is the same with a half.
    private static double Rank(IEnumerable<double> values, double share)
    {
        var sorted = values.Order().ToList();
        return sorted[(int)Math.Floor((sorted.Count * share) + 0.5) - 1];
    }

    private static IEnumerable<(HealthReport Report, SawHealth Saw)> OfSaws(ExpectedPoints e) => e.Reports.SelectMany(report => report.Saws, (report, saw) => (report, saw));

    private static void Sums(IReadOnlyList<Row> rows, ExpectedPoints e, string column, Func<IReadOnlyList<HealthReport>, double> value) =>
        Expected.Groups(rows, column, Time, e.Reports, report => Bar(e, report), value);

    private static void OfDestinations(IReadOnlyList<Row> rows, ExpectedPoints e, string column, Func<DestinationReport, double?> value) => Expected.Groups(
        rows,
        column,
        row => (Expected.Text(row, "destination"), Time(row)),
        e.Reports.SelectMany(report => report.Destinations, (report, one) => (Report: report, One: one)).Where(one => value(one.One) is not null),
        one => (one.One.Destination, Bar(e, one.Report)),
        of => of.Max(one => value(one.One)!.Value));

    private static long Bar(ExpectedPoints e, HealthReport report) => Expected.Bar(report.At, e.Per);

    private static long Time(Row row) => row["time"].GetInt64();
}
