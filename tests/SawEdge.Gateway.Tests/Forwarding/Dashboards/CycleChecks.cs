using SawEdge.Core;
using SawEdge.Core.Cycles;
using Row = System.Collections.Generic.IReadOnlyDictionary<string, System.Text.Json.JsonElement>;

namespace SawEdge.Gateway.Tests.Forwarding.Dashboards;

/// <summary>For each query on cycles: what its rows must be by the history.</summary>
internal static class CycleChecks
{
    private static readonly TimeSpan Hour = TimeSpan.FromHours(1);

    private static readonly (string, Func<CycleRecord, object?>)[] Cut =
    [
        ("outcome", r => r.Outcome.ToName()), ("job", r => r.Job), ("material", r => r.Material), ("section", r => r.Section), ("cut_time_s", r => r.CutTimeS), ("standard_cut_time_s", r => r.StandardCutTimeS),
        ("cut_time_ratio", r => r.CutTimeRatio), ("load_score", r => r.LoadScore),
    ];

    /// <summary>The checks by the key of their query.</summary>
    public static IReadOnlyDictionary<string, Action<IReadOnlyList<Row>, Expected>> All { get; } = new Dictionary<string, Action<IReadOnlyList<Row>, Expected>>
    {
        ["sawedge-bay/$site"] = (rows, e) => Assert.Contains(e.Site, rows.Select(row => row["value"].GetString())),
        ["sawedge-bay/$saw"] = Saws,
        ["sawedge-saw/$site"] = (rows, e) => Assert.Contains(e.Site, rows.Select(row => row["value"].GetString())),
        ["sawedge-saw/$saw"] = Saws,
        ["sawedge-blades/$site"] = (rows, e) => Assert.Contains(e.Site, rows.Select(row => row["value"].GetString())),
        ["sawedge-blades/$saw"] = Saws,

        ["sawedge-bay/Last cycle of each saw"] = (rows, e) => Expected.Table(BySaw(rows), e.Saws.Select(saw => e.Cycles.Last(r => r.Saw == saw)), [.. Cut, ("saw", r => r.Saw), ("ended_at", r => r.EndedAt), ("likely_cause", r => r.LikelyCause)]),
        ["sawedge-bay/Finished parts"] = (rows, e) => Expected.Groups(rows, "parts", Saw, e.Cycles, r => r.Saw, Finished),
        ["sawedge-bay/Finished parts per hour"] = (rows, e) => Expected.Groups(rows, "parts", row => (Saw(row), Time(row)), e.Cycles, r => (r.Saw, Expected.Bar(r.StartedAt, Hour)), Finished),
        ["sawedge-bay/Actual cut time against standard"] = (rows, e) => Points(rows, "cut_time_ratio", e.Cycles.Where(IsCompleted), r => r.CutTimeRatio),
        ["sawedge-bay/Motor load in the cut"] = (rows, e) => Points(rows, "mean_load_kw", e.Cycles, r => r.MeanLoadKw),

        ["sawedge-saw/Cut time"] = (rows, e) => Columns(rows, e.Cycles.Where(IsCompleted), ("actual", r => r.CutTimeS), ("standard", r => r.StandardCutTimeS), ("learned, low", r => r.LearnedLowS), ("learned, high", r => r.LearnedHighS)),
        ["sawedge-saw/Load score"] = (rows, e) => Columns(rows, e.Cycles, ("score", r => r.LoadScore), ("level", r => r.ScoreLevel), ("shape", r => r.ScoreShape), ("pace", r => r.ScorePace), ("blade loop", r => r.ScoreLoop)),
        ["sawedge-saw/Cuts that score 2 or more"] = (rows, e) => Expected.Table(rows, e.Cycles.Where(r => r.LoadScore >= 2).Reverse(), ("time", r => r.StartedAt), ("load_score", r => r.LoadScore), ("likely_cause", r => r.LikelyCause), ("job", r => r.Job), ("blade", r => r.Blade)),
        ["sawedge-saw/Actual against standard"] = (rows, e) => Bars(rows, e, "ratio", e.Cycles.Where(r => IsCompleted(r) && r.StandardCutTimeS > 0 && r.CutTimeS > 0), cuts => cuts.Sum(r => r.CutTimeS!.Value) / cuts.Sum(r => r.StandardCutTimeS!.Value)),
        ["sawedge-saw/Cutting rate"] = (rows, e) => Bars(rows, e, "rate", e.Cycles.Where(r => IsCompleted(r) && r.CutAreaCm2 > 0 && r.CutTimeS > 0), cuts => cuts.Sum(r => r.CutAreaCm2!.Value) / cuts.Sum(r => r.CutTimeS!.Value) * 60),
        ["sawedge-saw/Motor load"] = (rows, e) => Columns(rows, e.Cycles, ("mean", r => r.MeanLoadKw), ("greatest", r => r.PeakLoadKw), ("idle", r => r.IdleLoadKw)),
        ["sawedge-saw/How cuts ended"] = (rows, e) => Ended(rows, e, CutOutcome.Completed),
        ["sawedge-saw/How cuts ended/B"] = (rows, e) => Ended(rows, e, CutOutcome.Trim),
        ["sawedge-saw/How cuts ended/C"] = (rows, e) => Ended(rows, e, CutOutcome.Partial),
        ["sawedge-saw/How cuts ended/D"] = (rows, e) => Ended(rows, e, CutOutcome.Aborted, CutOutcome.Interrupted),
        ["sawedge-saw/How cuts ended/E"] = (rows, e) => Ended(rows, e, CutOutcome.UnobservedStart, CutOutcome.UnobservedEnd),
        ["sawedge-saw/Net energy of the cuts"] = (rows, e) => Bars(rows, e, "energy", e.Cycles, cuts => cuts.Sum(r => r.CuttingEnergyKj ?? 0) / 3600),
        ["sawedge-saw/Cuts"] = (rows, e) => Expected.Table(rows, e.Cycles.Reverse(), [.. Cut, ("time", r => r.StartedAt), ("cutting_rate_cm2_min", r => r.CuttingRateCm2Min), ("mean_load_kw", r => r.MeanLoadKw), ("blade", r => r.Blade), ("notes", r => r.Notes)]),

        ["sawedge-blades/Blade on each saw"] = (rows, e) => Expected.Table(
            BySaw(rows),
            e.Saws.Select(saw => e.Cycles.Last(r => r.Saw == saw && r.BladeAreaM2 is not null)),
            ("saw", r => r.Saw),
            ("blade", r => r.Blade),
            ("blade_area_m2", r => r.BladeAreaM2),
            ("specific_energy_j_mm3", r => r.SpecificEnergyJMm3),
            ("idle_load_kw", r => r.IdleLoadKw),
            ("ended_at", r => r.EndedAt)),
        ["sawedge-blades/Area cut by the blade"] = (rows, e) => Points(rows, "blade_area_m2", e.Cycles, r => r.BladeAreaM2),
        ["sawedge-blades/Specific energy"] = (rows, e) => Points(rows, "specific_energy_j_mm3", e.Cycles.Where(IsCompleted), r => r.SpecificEnergyJMm3),
        ["sawedge-blades/Specific energy, the middle"] = (rows, e) => Expected.Groups(
            rows,
            "median",
            row => (Saw(row), Time(row)),
            e.Cycles.Where(r => IsCompleted(r) && r.SpecificEnergyJMm3 is not null),
            r => (r.Saw, Expected.Bar(r.StartedAt, e.Per)),
            cuts => Expected.Median(cuts.Select(r => r.SpecificEnergyJMm3!.Value))),
        ["sawedge-blades/Area cut"] = (rows, e) => Expected.Groups(rows, "area", row => (Saw(row), Time(row)), e.Cycles.Where(IsCompleted), r => (r.Saw, Expected.Bar(r.StartedAt, e.Per)), cuts => cuts.Sum(r => r.CutAreaCm2 ?? 0) / 10_000),
        ["sawedge-blades/Idle load"] = (rows, e) => Points(rows, "idle_load_kw", e.Cycles, r => r.IdleLoadKw),
    };

    private static bool IsCompleted(CycleRecord record) => record.Outcome == CutOutcome.Completed;

    private static double Finished(IReadOnlyList<CycleRecord> records) => records.Count(IsCompleted);

    private static string Saw(Row row) => Expected.Text(row, "saw");

    private static long Time(Row row) => row["time"].GetInt64();

    private static List<Row> BySaw(IReadOnlyList<Row> rows) => [.. rows.OrderBy(Saw, StringComparer.Ordinal)];

    private static void Saws(IReadOnlyList<Row> rows, Expected expected) => Assert.Equal(expected.AllSaws.Order(), rows.Select(row => row["value"].GetString()!).Order());

    private static void Points(IReadOnlyList<Row> rows, string column, IEnumerable<CycleRecord> cycles, Func<CycleRecord, double?> value) => Expected.Points(rows, column, cycles, r => r.StartedAt, r => r.Saw, value);

    private static void Columns(IReadOnlyList<Row> rows, IEnumerable<CycleRecord> cycles, params (string Name, Func<CycleRecord, double?> Value)[] columns)
    {
        foreach (var (name, value) in columns)
            Expected.Points(rows, name, cycles, r => r.StartedAt, _ => "", value);
    }

    private static void Bars(IReadOnlyList<Row> rows, Expected expected, string column, IEnumerable<CycleRecord> cycles, Func<IReadOnlyList<CycleRecord>, double> value) =>
        Expected.Groups(rows, column, Time, cycles, r => Expected.Bar(r.StartedAt, expected.Per), value);

    private static void Ended(IReadOnlyList<Row> rows, Expected expected, params CutOutcome[] outcomes) =>
        Bars(rows, expected, "cuts", expected.Cycles.Where(r => outcomes.Contains(r.Outcome)), cuts => cuts.Count);
}
