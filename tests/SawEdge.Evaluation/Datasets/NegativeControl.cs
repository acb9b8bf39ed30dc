using SawEdge.Core.Notation;
using SawEdge.Core.Statistics;
using SawEdge.Evaluation.Reports;
using static SawEdge.Evaluation.Datasets.RealRecordings;

namespace SawEdge.Evaluation.Datasets;

/// <summary>
/// Milling runs in wax with worn and unworn tools (University of Michigan SMART lab 2018): wax loads the spindle too little
/// for wear to show. A measure that sees it here sees what is not there.
/// </summary>
internal static class NegativeControl
{
    // Below this a difference would be claimed.
    private const double ClaimP = 0.05;
    private const int Permutations = 20_000;

    public static bool ClaimsWear(CsvTable table, TextWriter output)
    {
        var result = new Table("Wax, the negative control: worn against unworn tools", "measure", "runs", "area under the curve", "permutation p", "wear claimed", "right")
        {
            Note = $"ln(power) less the median of its kind of cut (feed rate). One-sided p from {Figures.Number(Permutations)} permutations; claimed below {Figures.Number(ClaimP)}.",
        };
        var claims = false;
        foreach (var (column, name) in new[] { ("s1_power_kw_cut", "spindle power in the cut"), ("s1_power_kw_net", "net of the power in air") })
        {
            var runs = table.Rows.Select(row => (Kind: Text(table, row, "feedrate_mm_s"), Worn: Text(table, row, "tool_condition") == "worn", Power: Number(table, row, column)))
                .Where(run => run.Power > 0).ToArray();
            var levels = runs.GroupBy(run => run.Kind, StringComparer.Ordinal).ToDictionary(kind => kind.Key, Level, StringComparer.Ordinal);
            double[] measure = [.. runs.Select(run => Math.Log(run.Power) - levels[run.Kind])];
            bool[] worn = [.. runs.Select(run => run.Worn)];
            var p = RankStatistics.PermutationP(measure, worn, Permutations);
            claims |= p < ClaimP;
            result.Add(name, Figures.Number(runs.Length), Figures.Number(RankStatistics.Area(measure, worn), "0.000"), Figures.Number(p, "0.000"), p < ClaimP ? "yes" : "no", p < ClaimP ? "wrong" : "right");
        }

        Table.Write([], [result], TableFormat.Table, output);
        return claims;
    }

    private static double Level(IEnumerable<(string Kind, bool Worn, double Power)> runs)
    {
        Span<double> logs = [.. runs.Select(run => Math.Log(run.Power))];
        return RobustStatistics.Median(logs);
    }
}
