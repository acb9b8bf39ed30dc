using SawEdge.Core.Statistics;

namespace SawEdge.Core.Comparison;

/// <summary>How many cuts one side has.</summary>
/// <param name="Cuts">Cuts.</param>
/// <param name="Runs">Runs they are from.</param>
/// <param name="Blades">Blades they were made with.</param>
public readonly record struct SideCount(int Cuts, int Runs, int Blades);

/// <summary>The two sides within one kind of cut.</summary>
/// <param name="Kind">The kind.</param>
/// <param name="First">What the first side has.</param>
/// <param name="Second">What the second side has.</param>
/// <param name="Rate">Cutting rate of the second side over the first's; null where there is too little to say.</param>
/// <param name="P">p-value against 1, adjusted for the number of kinds; null with it.</param>
public sealed record ComparedKind(CutKind Kind, SideCount First, SideCount Second, FactorInterval? Rate, double? P);

/// <summary>What a comparison says.</summary>
public sealed record ComparedCuts
{
    /// <summary>What the first side has in kinds of cut that both have.</summary>
    public required SideCount First { get; init; }

    /// <summary>What the second side has in kinds of cut that both have.</summary>
    public required SideCount Second { get; init; }

    /// <summary>Cuts of the first side in kinds that the second has none of.</summary>
    public required int FirstAlone { get; init; }

    /// <summary>Cuts of the second side in kinds that the first has none of.</summary>
    public required int SecondAlone { get; init; }

    /// <summary>Cutting rate of the second side over the first's, over all kinds; null where there is too little to say.</summary>
    public FactorInterval? Rate { get; init; }

    /// <summary>p-value of <see cref="Rate"/> against 1; null with it.</summary>
    public double? P { get; init; }

    /// <summary>Whether blades were to be told apart and are too few for it, so that the interval is for these very blades.</summary>
    public bool OfTheseBlades { get; init; }

    /// <summary>The kinds that both sides have, in the order of their names.</summary>
    public required IReadOnlyList<ComparedKind> Kinds { get; init; }
}

/// <summary>
/// Holds two sides against each other, like with like: within kinds of cut that both have, by actual over standard cut time. Robust and with an honest interval as
/// <see cref="StandardsReview"/>; the kinds count as least squares weighs them. Memory grows by 16 bytes a cut.
/// </summary>
/// <param name="byBlade">Whether the blades of each side stand for others of their type: then a blade, not a run, is what is independent.</param>
public sealed class CutComparison(bool byBlade)
{
    // From this many cuts on a kind's own scatter says which of its cuts are odd; with fewer that of all kinds does. Judgement, no source.
    private const int OwnScale = 50;

    private readonly Dictionary<CutKind, (Side First, Side Second)> _kinds = [];

    /// <summary>Takes a cut.</summary>
    /// <param name="kind">Its kind, without what the sides differ in.</param>
    /// <param name="second">Whether it belongs to the second side.</param>
    /// <param name="run">Its run, a number of its own over all saws.</param>
    /// <param name="blade">Its blade, a number of its own over all saws; where the blade is not known, of the run.</param>
    /// <param name="logRatio">ln(actual over standard cut time), finite.</param>
    public void Take(CutKind kind, bool second, int run, int blade, double logRatio)
    {
        if (!_kinds.TryGetValue(kind, out var sides))
            _kinds[kind] = sides = (new Side(), new Side());
        var side = second ? sides.Second : sides.First;
        side.Logs.Add(logRatio);
        side.Runs.Add(run);
        side.Blades.Add(blade);
    }

    /// <summary>What the cuts say.</summary>
    /// <param name="leastCuts">Cuts of each side without which nothing is said.</param>
    public ComparedCuts Close(int leastCuts)
    {
        var common = _kinds.Where(kind => kind.Value.First.Logs.Count > 0 && kind.Value.Second.Logs.Count > 0).OrderBy(kind => kind.Key, CutKind.ByName).ToList();
        var alone = _kinds.Except(common).ToList();
        var all = TamedCuts.Scale([.. common.SelectMany(kind => new[] { kind.Value.First.Logs, kind.Value.Second.Logs })]);
        foreach (var (_, (first, second)) in common)
        {
            var scale = first.Logs.Count + second.Logs.Count >= OwnScale && TamedCuts.Scale(first.Logs, second.Logs) is > 0 and var own ? own : all;
            var slope = TamedCuts.MeanSlope(scale, first.Logs, second.Logs);
            first.Tamed = TamedCuts.Tame(first.Logs, scale, slope);
            second.Tamed = TamedCuts.Tame(second.Logs, scale, slope);
        }

        var of = Judge([.. common.Select(kind => kind.Value)], leastCuts);
        var kinds = common.Select(kind => (kind.Key, kind.Value, Result: Judge([kind.Value], leastCuts, of.OfTheseBlades))).ToList();
        var adjusted = FalseDiscovery.Adjust([.. kinds.Where(kind => kind.Result.P is not null).Select(kind => kind.Result.P!.Value)]);
        var next = 0;
        return new ComparedCuts
        {
            First = Count(common.Select(kind => kind.Value.First)),
            Second = Count(common.Select(kind => kind.Value.Second)),
            FirstAlone = alone.Sum(kind => kind.Value.First.Logs.Count),
            SecondAlone = alone.Sum(kind => kind.Value.Second.Logs.Count),
            Rate = of.Rate,
            P = of.P,
            OfTheseBlades = of.OfTheseBlades,
            Kinds = [.. kinds.Select(kind => new ComparedKind(kind.Key, Count([kind.Value.First]), Count([kind.Value.Second]), kind.Result.Rate, kind.Result.P is null ? null : adjusted[next++]))],
        };
    }

    private (FactorInterval? Rate, double? P, bool OfTheseBlades) Judge(IReadOnlyList<(Side First, Side Second)> kinds, int leastCuts, bool ofTheseBlades = false)
    {
        if (kinds.Sum(kind => kind.First.Logs.Count) < leastCuts || kinds.Sum(kind => kind.Second.Logs.Count) < leastCuts)
            return (null, null, false);
        if (byBlade && !ofTheseBlades && Difference(kinds, side => side.Blades) is { } blades)
            return (FactorInterval.Of(blades).Inverse(), blades.P, false);
        return Difference(kinds, side => side.Runs) is { } runs ? (FactorInterval.Of(runs).Inverse(), runs.P, byBlade) : (null, null, false);
    }

    private static ClusteredEstimate? Difference(IReadOnlyList<(Side First, Side Second)> kinds, Func<Side, List<int>> clusters)
    {
        var cells = new ClusteredCells();
        for (var stratum = 0; stratum < kinds.Count; stratum++)
        {
            Add(cells, stratum, false, kinds[stratum].First, clusters);
            Add(cells, stratum, true, kinds[stratum].Second, clusters);
        }

        return cells.Difference() is { Freedom: >= StandardsReview.LeastFreedom, StandardError: > 0 } estimate ? estimate : null;
    }

    private static void Add(ClusteredCells cells, int stratum, bool second, Side side, Func<Side, List<int>> clusters)
    {
        for (var i = 0; i < side.Tamed.Length; i++)
            cells.Add(stratum, second, clusters(side)[i], side.Tamed[i]);
    }

    private static SideCount Count(IEnumerable<Side> sides)
    {
        var all = sides.ToList();
        return new SideCount(all.Sum(side => side.Logs.Count), all.SelectMany(side => side.Runs).Distinct().Count(), all.SelectMany(side => side.Blades).Distinct().Count());
    }

    private sealed class Side
    {
        public List<double> Logs { get; } = [];

        public List<int> Runs { get; } = [];

        public List<int> Blades { get; } = [];

        public double[] Tamed { get; set; } = [];
    }
}
