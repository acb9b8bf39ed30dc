using SawEdge.Core.Statistics;

namespace SawEdge.Core.Comparison;

/// <summary>How cuts of one kind did against their standard.</summary>
/// <param name="Kind">The kind.</param>
/// <param name="Cuts">Number of cuts.</param>
/// <param name="Runs">Number of runs they are from.</param>
/// <param name="Median">Median of actual over standard cut time.</param>
/// <param name="Spread">Robust standard deviation of ln(actual over standard).</param>
/// <param name="Typical">Centre of the bulk of actual over standard, with its interval; null where there are too few cuts or runs to say.</param>
/// <param name="P">p-value of <paramref name="Typical"/> against 1, adjusted for the number of kinds; null with it.</param>
public sealed record KindAgainstStandard(CutKind Kind, int Cuts, int Runs, double Median, double Spread, FactorInterval? Typical, double? P)
{
    /// <summary>Whether it differs from the standard beyond chance.</summary>
    public bool Differs => P <= StandardsReview.FalseShare;
}

/// <summary>What the cuts of a material say about its reference rate.</summary>
/// <param name="Material">Name of the material.</param>
/// <param name="Cuts">Number of cuts.</param>
/// <param name="Runs">Number of runs they are from.</param>
/// <param name="Saws">The saws they were made on.</param>
/// <param name="Typical">Centre of the bulk of actual over standard, with its interval.</param>
/// <param name="P">p-value of <paramref name="Typical"/> against 1, adjusted for the number of materials.</param>
/// <param name="Least">The least typical value of its kinds that were enough.</param>
/// <param name="Greatest">The greatest typical value of its kinds that were enough.</param>
public sealed record MaterialAgainstStandard(string Material, int Cuts, int Runs, IReadOnlyList<string> Saws, FactorInterval Typical, double P, double Least, double Greatest)
{
    /// <summary>Whether another reference rate is proposed: it differs beyond chance and by enough to matter.</summary>
    public bool IsProposed => P <= StandardsReview.FalseShare && Math.Abs(Typical.Value - 1) >= StandardsReview.LeastChange;

    /// <summary>Whether its kinds of cut lie so far apart that one rate cannot fit them all.</summary>
    public bool Disagrees => Greatest / Least > StandardsReview.WideApart;
}

/// <summary>
/// Holds finished cuts against their standards, kind by kind. The times are compared by their ratio's logarithm; a robust centre (<see cref="Biweight"/>), and an interval that
/// knows that cuts of a run are alike (<see cref="ClusteredCells"/>). Memory grows by 12 bytes a cut.
/// </summary>
public sealed class StandardsReview
{
    /// <summary>Of what is called beyond chance, the share that is chance after all (<see cref="FalseDiscovery"/>).</summary>
    public const double FalseShare = 0.05;

    /// <summary>A change of a rate that is worth a person's look. Judgement, no source.</summary>
    public const double LeastChange = 0.02;

    /// <summary>A cut of which less was seen, frames over frames due, says nothing about times.</summary>
    public const double LeastCoverage = Cycles.CutFigures.LeastCoverage;

    /// <summary>Below this the degrees of freedom promise too much (Tipton, Psychol. Methods 20, 2015).</summary>
    public const double LeastFreedom = 4;

    /// <summary>The greatest over the least typical ratio of a material's kinds, from which on one rate does not fit them. Judgement, no source.</summary>
    public const double WideApart = 1.1;

    private readonly Dictionary<CutKind, (List<double> Logs, List<int> Runs)> _kinds = [];

    /// <summary>Takes a cut.</summary>
    /// <param name="kind">Its kind.</param>
    /// <param name="run">Its run (<see cref="RunTracker"/>), a number of its own over all saws.</param>
    /// <param name="logRatio">ln(actual over standard cut time), finite.</param>
    public void Take(CutKind kind, int run, double logRatio)
    {
        if (!_kinds.TryGetValue(kind, out var cuts))
            _kinds[kind] = cuts = ([], []);
        cuts.Logs.Add(logRatio);
        cuts.Runs.Add(run);
    }

    /// <summary>What the cuts say, kind by kind in the order of their names, and for the materials whose rates are the catalogue's.</summary>
    /// <param name="leastCuts">Cuts without which nothing is said.</param>
    public (IReadOnlyList<KindAgainstStandard> Kinds, IReadOnlyList<MaterialAgainstStandard> Materials) Close(int leastCuts)
    {
        var kinds = new List<KindAgainstStandard>();
        var materials = new SortedDictionary<string, List<(string Saw, double[] Tamed, List<int> Runs, FactorInterval? Typical)>>(StringComparer.Ordinal);
        foreach (var (kind, (logs, runs)) in _kinds.OrderBy(kind => kind.Key, CutKind.ByName))
        {
            var scale = TamedCuts.Scale(logs);
            var tamed = TamedCuts.Tame(logs, scale, TamedCuts.MeanSlope(scale, logs));
            var cells = new ClusteredCells();
            for (var i = 0; i < tamed.Length; i++)
                cells.Add(0, false, runs[i], tamed[i]);
            var (typical, p) = Judged(cells.Mean(), logs.Count, leastCuts);
            kinds.Add(new KindAgainstStandard(kind, logs.Count, runs.Distinct().Count(), Math.Exp(RobustStatistics.Median(logs.ToArray())), scale, typical, p));
            if (kind.PlantJob.Length > 0)
                continue;
            if (!materials.TryGetValue(kind.Material, out var pool))
                materials[kind.Material] = pool = [];
            pool.Add((kind.Saw, tamed, runs, typical));
        }

        var judged = materials.Select(material => (material.Key, Pool: new Pool(material.Value))).Select(material => (material.Key, material.Pool, Result: Judged(material.Pool.Cells.Mean(), material.Pool.Cuts, leastCuts))).Where(material => material.Result.Typical is not null).ToList();
        var adjusted = FalseDiscovery.Adjust([.. judged.Select(material => material.Result.P!.Value)]);
        return (Adjusted(kinds), [.. judged.Select((material, i) => new MaterialAgainstStandard(
            material.Key, material.Pool.Cuts, material.Pool.Runs.Count, [.. material.Pool.Saws], material.Result.Typical!.Value, adjusted[i],
            material.Pool.Least ?? material.Result.Typical.Value.Value, material.Pool.Greatest ?? material.Result.Typical.Value.Value))]);
    }

    private static (FactorInterval? Typical, double? P) Judged(ClusteredEstimate estimate, int cuts, int leastCuts) =>
        cuts >= leastCuts && estimate.Freedom >= LeastFreedom && estimate.StandardError > 0 ? (FactorInterval.Of(estimate), estimate.P) : (null, null);

    private static List<KindAgainstStandard> Adjusted(List<KindAgainstStandard> kinds)
    {
        var adjusted = FalseDiscovery.Adjust([.. kinds.Where(kind => kind.P is not null).Select(kind => kind.P!.Value)]);
        var next = 0;
        return [.. kinds.Select(kind => kind.P is null ? kind : kind with { P = adjusted[next++] })];
    }

    // The cuts of a material: of the kinds that say enough by themselves, so that a few of another blade or section do not sway its rate; of all where none does.
    private sealed class Pool
    {
        public Pool(List<(string Saw, double[] Tamed, List<int> Runs, FactorInterval? Typical)> kinds)
        {
            var enough = kinds.Exists(kind => kind.Typical is not null);
            foreach (var (saw, tamed, runs, typical) in kinds.Where(kind => !enough || kind.Typical is not null))
            {
                for (var i = 0; i < tamed.Length; i++)
                {
                    Cells.Add(0, false, runs[i], tamed[i]);
                    Runs.Add(runs[i]);
                }

                Saws.Add(saw);
                Cuts += tamed.Length;
                Least = Math.Min(Least ?? double.MaxValue, typical?.Value ?? double.MaxValue);
                Greatest = Math.Max(Greatest ?? 0, typical?.Value ?? 0);
            }

            if (!enough)
                Least = Greatest = null;
        }

        public ClusteredCells Cells { get; } = new();

        public HashSet<int> Runs { get; } = [];

        public SortedSet<string> Saws { get; } = new(StringComparer.Ordinal);

        public int Cuts { get; }

        public double? Least { get; }

        public double? Greatest { get; }
    }
}
