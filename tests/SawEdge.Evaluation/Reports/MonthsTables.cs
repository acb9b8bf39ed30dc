using SawEdge.Evaluation.Population;
using SawEdge.Evaluation.Scenarios;
using SawEdge.Simulator.Randomness;

namespace SawEdge.Evaluation.Reports;

/// <summary>What the saws without faults gave.</summary>
internal static class MonthsTables
{
    // The goal of the issue: within a factor 1.5 of 10^-s.
    private const double GoalFactor = 1.5;

    private static readonly string[] Kinds = ["cut", "energy", "idle", "shape", "pace", "loop"];

    public static IEnumerable<Table> Make(IReadOnlyList<MonthsResult> saws)
    {
        yield return Calibration(saws);
        yield return ByMapping(saws);
        yield return BladeChanges(saws);
    }

    private static ScoreCounts Counts(MonthsResult saw, string kind, bool later, bool startUp)
    {
        var sum = new ScoreCounts();
        if (later && saw.Later.TryGetValue(kind, out var counts))
            sum.Add(counts);
        if (startUp && saw.StartUp.TryGetValue(kind, out counts))
            sum.Add(counts);
        return sum;
    }

    private static Table Calibration(IReadOnlyList<MonthsResult> saws)
    {
        var table = new Table("Calibration without faults", "view", "cuts", "s", "share", "ratio to 10^-s", "95 % interval", "goal: within 1.5")
        {
            Note = $"Share of cuts with a score of at least s; the interval of the ratio is from 2,000 resamplings of whole saws. Each saw's first {MonthsScenario.StartUpCuts} cuts apart. The operator changes a blade at {MonthsScenario.ChangeAtLife:P0} of its life.",
        };
        foreach (var kind in Kinds)
            AddRows(table, kind == "cut" ? "the cut" : kind, [.. saws.Select(saw => Counts(saw, kind, later: true, startUp: false))]);
        AddRows(table, "the cut, start-up", [.. saws.Select(saw => Counts(saw, "cut", later: false, startUp: true))]);
        AddRows(table, "the cut, start-up included", [.. saws.Select(saw => Counts(saw, "cut", later: true, startUp: true))]);
        return table;
    }

    private static void AddRows(Table table, string name, ScoreCounts[] saws)
    {
        var cuts = saws.Sum(saw => saw.Cuts);
        if (cuts == 0)
            table.Add(name, "0", Figures.None, Figures.None, Figures.None, Figures.None, Figures.None);
        for (var s = 1; s <= 3 && cuts > 0; s++)
        {
            var reached = saws.Sum(saw => saw.Reached[s - 1]);
            var ratio = (double)reached / cuts * Math.Pow(10, s);
            var (low, high) = Resampled(saws, s);
            table.Add(
                name, Figures.Number(cuts), s.ToString(System.Globalization.CultureInfo.InvariantCulture), Figures.Number((double)reached / cuts, "0.00000"), Figures.Number(ratio),
                $"{Figures.Number(low)}..{Figures.Number(high)}", Figures.Goal(ratio is >= 1 / GoalFactor and <= GoalFactor));
        }
    }

    // Alarms of one saw come together, so it is saws that are drawn, not cuts.
    private static (double Low, double High) Resampled(ScoreCounts[] saws, int s)
    {
        const int Times = 2000;
        var random = new Xoshiro256(20_260_302, (ulong)s);
        var ratios = new double[Times];
        for (var t = 0; t < Times; t++)
        {
            long cuts = 0, reached = 0;
            for (var i = 0; i < saws.Length; i++)
            {
                var saw = saws[(int)(random.Uniform() * saws.Length)];
                cuts += saw.Cuts;
                reached += saw.Reached[s - 1];
            }

            ratios[t] = cuts == 0 ? 0 : (double)reached / cuts * Math.Pow(10, s);
        }

        return (Figures.Quantile(ratios, 0.025), Figures.Quantile(ratios, 0.975));
    }

    private static Table ByMapping(IReadOnlyList<MonthsResult> saws)
    {
        var table = new Table("False alarms per 1,000 cuts", "mapped", "saws", "cuts", "outcome right", "scored", "score >= 3", "over the saw's threshold", "live findings", "kinds", "doubts", "alarms a saw and 30 days")
        {
            Note = "No fault is there: every one is false. Start-up included. The saw's threshold is for one accepted false alarm in 30 days.",
        };
        foreach (var mapping in Mapping.All)
            AddRow(table, mapping.Name, [.. saws.Where(saw => ReferenceEquals(saw.Mapping, mapping))]);
        AddRow(table, "all", saws);
        return table;
    }

    private static void AddRow(Table table, string name, IReadOnlyList<MonthsResult> saws)
    {
        var cuts = saws.Sum(saw => saw.Cuts);
        if (cuts == 0)
            return;
        string Per1000(long count) => Figures.Number(count * 1000.0 / cuts);
        var scores = new ScoreCounts();
        foreach (var saw in saws)
            scores.Add(Counts(saw, "cut", later: true, startUp: true));
        var kinds = saws.SelectMany(saw => saw.FindingKinds).GroupBy(pair => pair.Key, StringComparer.Ordinal).OrderBy(group => group.Key, StringComparer.Ordinal)
            .Select(group => $"{group.Key} {group.Sum(pair => pair.Value)}");
        table.Add(
            name, Figures.Number(saws.Count), Figures.Number(cuts), Figures.Share(saws.Sum(saw => saw.Whole), cuts), Figures.Number(scores.Cuts), Per1000(scores.Reached[2]), Per1000(saws.Sum(saw => saw.OverThreshold)),
            Per1000(saws.Sum(saw => saw.Findings)), string.Join(", ", kinds), Per1000(saws.Sum(saw => saw.Doubted)), Figures.Number(saws.Sum(saw => saw.OverThreshold) * 30 / saws.Sum(saw => saw.Days)));
    }

    private static Table BladeChanges(IReadOnlyList<MonthsResult> saws) => ProposalTable.Make(
        $"Blade changes at {MonthsScenario.ChangeAtLife:P0} of the life that nobody told", [.. saws.Select(saw => (saw.Mapping, saw.Cuts, saw.Proposals!))]);
}
