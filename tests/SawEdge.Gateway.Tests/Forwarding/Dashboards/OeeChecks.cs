using SawEdge.Core.Oee;
using SawEdge.Gateway.History;
using Row = System.Collections.Generic.IReadOnlyDictionary<string, System.Text.Json.JsonElement>;

namespace SawEdge.Gateway.Tests.Forwarding.Dashboards;

/// <summary>The figures that the API and the page give, of the time and the saws that are chosen.</summary>
/// <param name="Site">Name of the site.</param>
/// <param name="AllSaws">All saws.</param>
/// <param name="Saws">Of each chosen saw, over the chosen time.</param>
/// <param name="Bars">Of each chosen saw, for each bar.</param>
/// <param name="Begins">Of each chosen saw the begins of states within the chosen time.</param>
internal sealed record ExpectedOee(
    string Site,
    IReadOnlyList<string> AllSaws,
    IReadOnlyDictionary<string, OeeBuckets> Saws,
    IReadOnlyDictionary<(string Saw, long Bar), OeeBuckets> Bars,
    IReadOnlyDictionary<string, IReadOnlyList<StateBegin>> Begins)
{
    /// <summary>Of the chosen saws together, for each bar.</summary>
    public IReadOnlyDictionary<long, OeeBuckets> Together => Bars.GroupBy(bar => bar.Key.Bar).ToDictionary(group => group.Key, group => OeeBuckets.Total(group.Select(bar => bar.Value)));
}

/// <summary>For each query on time and losses: what its rows must be by the figures of the API.</summary>
internal static class OeeChecks
{
    private static readonly (string Column, OeeBucket Bucket)[] Buckets =
    [
        ("cutting at standard", OeeBucket.CuttingAtStandard), ("handling", OeeBucket.Handling), ("slow cutting", OeeBucket.SlowCutting), ("slow handling", OeeBucket.SlowHandling), ("short stops", OeeBucket.ShortStops),
        ("stops", OeeBucket.StopsByReason), ("setup", OeeBucket.Setup), ("scrap", OeeBucket.ScrapTime), ("not seen", OeeBucket.Unknown),
    ];

    private static readonly (string Column, Func<OeeBuckets, double> Value)[] Besides =
    [
        ("planned", b => b.PlannedBusyTime.TotalHours), ("delayed", b => b[OeeBeside.Delay].TotalHours), ("down", b => b[OeeBeside.Down].TotalHours), ("gained on the standard", b => b[OeeBeside.Gained].TotalHours),
        ("at work without a standard", b => b[OeeBeside.WithoutStandard].TotalHours), ("spent on cuts that came to nothing", b => b[OeeBeside.Lost].TotalHours), ("parts", b => b[OeeCount.Parts]),
        ("scrap parts", b => b[OeeCount.Scrap]), ("trim cuts", b => b[OeeCount.Trims]), ("given up", b => b[OeeCount.Lost]), ("parts outside planned time", b => b[OeeCount.PartsOutside]),
        ("end not seen", b => b[OeeCount.Uncertain]), ("parts without a standard", b => b[OeeCount.WithoutStandard]),
    ];

    /// <summary>The checks by the key of their query.</summary>
    public static IReadOnlyDictionary<string, Action<IReadOnlyList<Row>, ExpectedOee>> All { get; } = new Dictionary<string, Action<IReadOnlyList<Row>, ExpectedOee>>
    {
        ["sawedge-oee/$site"] = (rows, e) => Assert.Equal([e.Site], rows.Select(row => row["value"].GetString()!)),
        ["sawedge-oee/$saw"] = (rows, e) => Assert.Equal(e.AllSaws.Order(), rows.Select(row => row["value"].GetString()!).Order()),
        ["sawedge-oee/Figures of each saw"] = (rows, e) => Ratios(rows, "oee", Saw, e.Saws, f => f.Oee),
        ["sawedge-oee/Figures of each saw/B"] = (rows, e) => Ratios(rows, "availability", Saw, e.Saws, f => f.Availability),
        ["sawedge-oee/Figures of each saw/C"] = (rows, e) => Ratios(rows, "effectiveness", Saw, e.Saws, f => f.Effectiveness),
        ["sawedge-oee/Figures of each saw/D"] = (rows, e) => Ratios(rows, "quality", Saw, e.Saws, f => f.QualityRatio),
        ["sawedge-oee/Figures of each saw/E"] = (rows, e) => Ratios(rows, "unseen", Saw, e.Saws, f => f.UnknownShare),
        ["sawedge-oee/Figures of each saw/F"] = (rows, e) => Ratios(rows, "low", Saw, e.Saws, f => f.AvailabilityLow),
        ["sawedge-oee/Figures of each saw/G"] = (rows, e) => Ratios(rows, "high", Saw, e.Saws, f => f.AvailabilityHigh),
        ["sawedge-oee/Losses"] = (rows, e) =>
        {
            var total = OeeBuckets.Total(e.Saws.Values);
            foreach (var (column, bucket) in Buckets.Where(bucket => bucket.Bucket is not (OeeBucket.CuttingAtStandard or OeeBucket.Handling)))
                Near(total[bucket].TotalHours, Assert.Single(rows)[column].GetDouble(), column);
        },
        ["sawedge-oee/Where planned time went"] = (rows, e) =>
        {
            Assert.Equal(e.Together.Where(bar => bar.Value.PlannedBusyTime > TimeSpan.Zero).Select(bar => bar.Key).Order(), rows.Where(row => Buckets.Any(bucket => Number(row, bucket.Column) > 0)).Select(Time).Order());
            foreach (var row in rows)
            {
                var made = e.Together.GetValueOrDefault(Time(row));
                foreach (var (column, bucket) in Buckets)
                    Near(made?[bucket].TotalHours ?? 0, Number(row, column), column);
                Near(made?.PlannedBusyTime.TotalHours ?? 0, Buckets.Sum(bucket => Number(row, bucket.Column)), "the height of a bar");
            }
        },
        ["sawedge-oee/OEE of each saw"] = (rows, e) => Ratios(rows, "oee", row => (Saw(row), Time(row)), e.Bars, f => f.Oee),
        ["sawedge-oee/What OEE is made of"] = (rows, e) => Ratios(rows, "availability", Time, e.Together, f => f.Availability),
        ["sawedge-oee/What OEE is made of/B"] = (rows, e) => Ratios(rows, "effectiveness", Time, e.Together, f => f.Effectiveness),
        ["sawedge-oee/What OEE is made of/C"] = (rows, e) => Ratios(rows, "quality", Time, e.Together, f => f.QualityRatio),
        ["sawedge-oee/Parts"] = (rows, e) => Assert.All(rows, row =>
        {
            var made = e.Together.GetValueOrDefault(Time(row));
            Assert.Equal((made?.GoodParts ?? 0, made?[OeeCount.Scrap] ?? 0), (Number(row, "good"), Number(row, "scrap")));
        }),
        ["sawedge-oee/Not seen"] = (rows, e) => Ratios(rows, "unseen", row => (Saw(row), Time(row)), e.Bars, f => f.UnknownShare),
        ["sawedge-oee/What else there is to know"] = (rows, e) =>
        {
            Assert.Equal(e.Saws.Keys.Order(), rows.Select(Saw).Order());
            foreach (var row in rows)
            {
                foreach (var (column, value) in Besides)
                    Near(value(e.Saws[Saw(row)]), Number(row, column), column);
            }
        },
        ["sawedge-bay/What each saw did"] = (rows, e) => Assert.Equal(
            e.Begins.SelectMany(saw => saw.Value, (saw, begin) => (saw.Key, begin.At.ToUnixTimeMilliseconds(), begin.State.ToName())).Order(),
            rows.Select(row => (Saw(row), Time(row), Expected.Text(row, "state"))).Order()),
        ["sawedge-oee/Stops by reason"] = (rows, e) =>
        {
            var stops = OeeBuckets.Total(e.Saws.Values).Stops;
            Assert.True(stops.Count is > 5 and <= 20, "All of them are shown.");
            Stops(stops.Select(stop => (("", stop.Class.ToName(), stop.Reason), stop.Time)), rows);
        },
        ["sawedge-oee/Stops of each saw by reason"] = (rows, e) => Stops(e.Saws.SelectMany(saw => saw.Value.Stops, (saw, stop) => ((saw.Key, stop.Class.ToName(), stop.Reason), stop.Time)), rows),
    };

    private static void Stops(IEnumerable<((string, string, string) Stop, TimeSpan Time)> wanted, IReadOnlyList<Row> rows)
    {
        var found = rows.ToDictionary(row => (Saw(row), Expected.Text(row, "class"), Expected.Text(row, "reason")), row => Number(row, "hours"));
        var all = wanted.Where(stop => stop.Time > TimeSpan.Zero).ToList();
        Assert.Equal(all.Select(stop => stop.Stop).Order(), found.Keys.Order());
        Assert.All(all, stop => Near(stop.Time.TotalHours, found[stop.Stop], $"{stop.Stop}"));
    }

    private static string Saw(Row row) => Expected.Text(row, "saw");

    private static long Time(Row row) => row["time"].GetInt64();

    private static double Number(Row row, string column) => row[column].GetDouble();

    private static void Near(double wanted, double found, string what) => Assert.True(Math.Abs(wanted - found) <= 1e-9 * Math.Max(1, Math.Abs(wanted)), $"{what}: {wanted} is wanted, {found} came");

    // A ratio of nothing is no row: a server would say 0 there.
    private static void Ratios<TKey>(IReadOnlyList<Row> rows, string column, Func<Row, TKey> key, IReadOnlyDictionary<TKey, OeeBuckets> buckets, Func<OeeFigures, double> figure)
        where TKey : notnull
    {
        var wanted = buckets.Select(pair => (pair.Key, Value: figure(pair.Value.Figures))).Where(pair => !double.IsNaN(pair.Value)).ToDictionary(pair => pair.Key, pair => pair.Value);
        Assert.NotEmpty(wanted);
        var found = rows.ToDictionary(key, row => Number(row, column));
        Assert.Equal(wanted.Keys.Order(), found.Keys.Order());
        foreach (var (name, value) in wanted)
            Near(value, found[name], $"{column} of {name}");
    }
}
