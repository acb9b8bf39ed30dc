using SawEdge.Core.Blades;
using SawEdge.Core.Notation;
using SawEdge.Core.Statistics;
using SawEdge.Evaluation.Reports;
using static SawEdge.Evaluation.Datasets.RealRecordings;

namespace SawEdge.Evaluation.Datasets;

/// <summary>
/// Milling runs with measured flank wear (Agogino and Goebel, BEST lab, UC Berkeley, NASA Ames 2007). A case is one tool in
/// one kind of cut, so its ln(load) less its own beginning is what the load score calls wear.
/// </summary>
internal static class MeasuredWear
{
    /// <summary>Flank wear above which a tool counts as worn, mm: usual in milling, and what the data's authors report against.</summary>
    private const double WornMm = 0.3;

    // Runs of a case from which its beginning is taken. The tracker counts area: each run stands for this much, so that its
    // beginning (up to 0.5 m2) is these runs.
    private const int BeginningRuns = 3;
    private const double RunM2 = 0.15;

    public static void Write(CsvTable table, TextWriter output)
    {
        foreach (var (column, name) in new[] { ("smcac_rms_v", "AC spindle current"), ("smcdc_rms_v", "DC spindle current, clipped in some runs") })
        {
            var result = new Table($"Milling, {name}: measures against measured flank wear", "measure", "cases", "runs", "Spearman, pooled", "area under the curve, wear > 0.3 mm")
            {
                Note = "Published by NASA Ames 2007, cases 1 to 8. These tools wear in their first runs, so a beginning of three is worn already.",
            };
            var cases = table.Rows.GroupBy(row => Text(table, row, "case"), StringComparer.Ordinal).Select(rows => Case(table, [.. rows], column)).ToArray();
            Add(result, "ln(load), less the median of the first three runs", cases, run => run.Residual);
            Add(result, "as a blade is followed: Theil-Sen line through the latest runs", cases, run => run.Followed);
            Add(result, "the same, begun with the first run alone", cases, run => run.FromFirst);
            Add(result, "baseline: load divided by the first run", cases, run => run.Baseline);
            Add(result, "no measure: ln(load) as it is", cases, run => run.Plain);
            Table.Write([], [result], TableFormat.Table, output);
        }
    }

    private static void Add(Table table, string name, Run[][] cases, Func<Run, double> measure)
    {
        var runs = cases.SelectMany(runs => runs).Where(run => !double.IsNaN(run.WearMm)).ToArray();
        double[] values = [.. runs.Select(measure)];
        double[] wear = [.. runs.Select(run => run.WearMm)];
        table.Add(
            name, Figures.Number(cases.Count(runs => runs.Length > 0)), Figures.Number(runs.Length), Figures.Number(RankStatistics.Spearman(values, wear), "0.000"),
            Figures.Number(RankStatistics.Area(values, [.. wear.Select(mm => mm > WornMm)]), "0.000"));
    }

    private static Run[] Case(CsvTable table, CsvRow[] rows, string column)
    {
        var runs = rows.Select(row => (Load: Number(table, row, column), Wear: Number(table, row, "vb_mm"))).Where(run => run.Load > 0).ToArray();
        if (runs.Length == 0)
            return [];
        Span<double> first = [.. runs.Take(BeginningRuns).Select(run => Math.Log(run.Load))];
        var beginning = RobustStatistics.Median(first);
        var tracker = new WearTracker();
        var result = new Run[runs.Length];
        for (var i = 0; i < runs.Length; i++)
        {
            var log = Math.Log(runs[i].Load);
            tracker.Add(log, (i + 1) * RunM2);
            var forecast = tracker.Forecast(beginning, dullRise: 0.25, cutAreaM2: RunM2);
            var followed = forecast is null ? log - beginning : Math.Log(1 + forecast.Rise);
            result[i] = new Run(runs[i].Wear, log - beginning, followed, followed + beginning - Math.Log(runs[0].Load), runs[i].Load / runs[0].Load, log);
        }

        return result;
    }

    private readonly record struct Run(double WearMm, double Residual, double Followed, double FromFirst, double Baseline, double Plain);
}
