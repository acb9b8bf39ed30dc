using SawEdge.Evaluation.Population;
using SawEdge.Evaluation.Scenarios;

namespace SawEdge.Evaluation.Reports;

/// <summary>What the blades that were run to their end gave.</summary>
internal static class LivesTables
{
    private const double LeastLeft = 0.15;
    private const double TooEarly = 0.4;

    // The goal of the issue: 9 of 10 lives.
    private const double Goal = 0.9;

    public static IEnumerable<Table> Make(IReadOnlyList<(LivesResult Result, long Cycles)> saws)
    {
        BladeLife[] lives = [.. saws.SelectMany(saw => saw.Result.Lives)];
        yield return Calls(lives);
        yield return Forecasts(lives);
        yield return ProposalTable.Make("Blade changes at the end of the life that nobody told", [.. saws.Select(saw => (saw.Result.Mapping, saw.Cycles, saw.Result.Proposals))]);
    }

    private static Table Calls(IReadOnlyList<BladeLife> lives)
    {
        var table = new Table("Dull blades called", "mapped", "lives", "with at least 15 % left (95 %)", "goal: 0.9", "of them more than 40 % left: too early", "later", "never", "life left at the call p10/p50/p90", "by due/score")
        {
            Note = "Each blade from new to the end of its life with no other fault; called where the forecast says it is due, or a level score of at least 3 names a dull blade first. The first blade of a saw is not judged.",
        };
        foreach (var mapping in Mapping.All)
            AddRow(table, mapping.Name, [.. lives.Where(life => ReferenceEquals(life.Mapping, mapping))]);
        AddRow(table, "head and job mapped", [.. lives.Where(life => life.Mapping.IsFull)]);
        AddRow(table, "all", lives);
        return table;
    }

    private static void AddRow(Table table, string name, IReadOnlyList<BladeLife> lives)
    {
        if (lives.Count == 0)
            return;
        var left = lives.Select(life => life.LeftAtCall).OfType<double>().ToArray();
        var intime = left.Count(share => share >= LeastLeft);
        table.Add(
            name, Figures.Number(lives.Count), Figures.WithInterval(intime, lives.Count), Figures.Goal(intime >= Goal * lives.Count), Figures.WithInterval(left.Count(share => share > TooEarly), lives.Count),
            Figures.Number(left.Length - intime), Figures.Number(lives.Count - left.Length),
            left.Length == 0 ? Figures.None : $"{Figures.Number(Figures.Quantile(left, 0.1))}/{Figures.Number(Figures.Quantile(left, 0.5))}/{Figures.Number(Figures.Quantile(left, 0.9))}",
            $"{lives.Count(life => life.CalledBy == "due")}/{lives.Count(life => life.CalledBy == "score")}");
    }

    private static Table Forecasts(IReadOnlyList<BladeLife> lives)
    {
        var table = new Table("Forecast of the area left", "life used", "blades", "forecast made", "error p50, % of life", "absolute error p50/p90, % of life", "truth inside the interval (95 %)", "interval open above")
        {
            Note = "Held against the area until specific energy had really risen by the dull limit.",
        };
        foreach (var at in LivesScenario.Checks)
        {
            var checks = lives.SelectMany(life => life.Forecasts).Where(check => check.AtUsed == at).ToArray();
            var made = checks.Where(check => check.Forecast is not null).ToArray();
            var errors = made.Select(check => 100 * (check.Forecast!.Value - check.TrueM2) / check.LifeM2).ToArray();
            var bounded = checks.Where(check => check.LowM2 is not null).ToArray();
            table.Add(
                Figures.Number(100 * at, "0") + " %", Figures.Number(checks.Length), Figures.Number(made.Length), Figures.Number(Figures.Quantile(errors, 0.5), "0.0"),
                made.Length == 0 ? Figures.None : $"{Figures.Number(Figures.Quantile(errors.Select(Math.Abs), 0.5), "0.0")}/{Figures.Number(Figures.Quantile(errors.Select(Math.Abs), 0.9), "0.0")}",
                Figures.WithInterval(bounded.Count(check => check.TrueM2 >= check.LowM2 && (check.HighM2 is null || check.TrueM2 <= check.HighM2)), bounded.Length), Figures.Number(bounded.Count(check => check.HighM2 is null)));
        }

        return table;
    }
}
