using MathNet.Numerics.Distributions;

namespace SawEdge.Core.Cutting;

/// <summary>What kind of cut a learned time is for.</summary>
/// <param name="Saw">Name of the saw.</param>
/// <param name="Material">Name of the material.</param>
/// <param name="Family">Family of the section.</param>
/// <param name="BladeType">Kind and pitch of the blade; empty where it is not known.</param>
public sealed record LearnedKey(string Saw, string Material, string Family, string BladeType);

/// <summary>A learned cut time with its prediction interval.</summary>
/// <param name="ExpectedS">The time that half of such cuts stay below, s.</param>
/// <param name="LowS">Lower end of the interval for the next cut, s.</param>
/// <param name="HighS">Upper end of the interval for the next cut, s.</param>
/// <param name="Cuts">How many cuts of this kind it stands on; old ones count less.</param>
/// <param name="OwnShare">How much of it is this kind's own history, 0..1; the rest is the catalogue and the saw's other kinds.</param>
/// <param name="LogVariance">Variance of ln(<paramref name="ExpectedS"/>) itself, the scatter of single cuts not included.</param>
public sealed record LearnedTime(double ExpectedS, double LowS, double HighS, double Cuts, double OwnShare, double LogVariance);

/// <summary>
/// Cut times learned from each saw's own history: the standard time times a factor for the kind of cut. The factor's logarithm is
/// an empirical-Bayes mean: kinds of cut vary about the saw's mean with a variance estimated from the saw's own kinds, the saw's
/// mean is shrunk toward the catalogue (a factor of 1), and the scatter within a kind is shrunk toward that pooled over the saw's
/// kinds. The interval is that of Student's t. (Efron and Morris, "Data analysis using Stein's estimator and its generalizations",
/// JASA 70, 1975; variances as in Smyth, Stat. Appl. Genet. Mol. Biol. 3, 2004.) Feed it completed cuts only, and none that was
/// alarmed. Not safe for several threads.
/// </summary>
public sealed class LearnedTimes
{
    // What is believed before a saw has shown anything; judgement, no source: a catalogue's rate is right within a factor of about
    // 1.5 for a saw and again for a kind of cut; cuts of one kind scatter by about 10 %.
    private const double SawSpread = 0.3;
    private const double KindSpread = 0.3;
    private const double KindSpreadWeight = 4;
    private const double Scatter = 0.1;
    private const double ScatterWeight = 4;

    // A kind remembers about this many cuts, so that it follows a saw that changes.
    private const double Memory = 200;

    // Jobs by number come and go without end: what is stored must not grow with them.
    private const int MostJobs = 64;

    // A cut further out than this many standard deviations is counted as if it lay there.
    private const double Held = 3;
    private const int HeldFrom = 5;

    // A fixed order, so that sums come out the same to the last digit before and after a restart.
    private static readonly Comparer<LearnedKey> ByName = Comparer<LearnedKey>.Create(static (a, b) =>
        string.CompareOrdinal(a.Saw, b.Saw) is var bySaw and not 0 ? bySaw
        : string.CompareOrdinal(a.Material, b.Material) is var byMaterial and not 0 ? byMaterial
        : string.CompareOrdinal(a.Family, b.Family) is var byFamily and not 0 ? byFamily
        : string.CompareOrdinal(a.BladeType, b.BladeType));

    private static readonly SortedDictionary<LearnedKey, Moments> None = new(ByName);

    private readonly Dictionary<string, SortedDictionary<LearnedKey, Moments>> _bySaw = new(StringComparer.Ordinal);
    // The latest job is last, so that what has not been cut for long can go.
    private readonly OrderedDictionary<(string Saw, string Job), Moments> _byJob = [];

    /// <summary>Learns from one completed cut whose standard time is known.</summary>
    /// <param name="key">The kind of cut.</param>
    /// <param name="cutS">How long it took, s, above zero.</param>
    /// <param name="standardS">How long it should have taken, s, above zero.</param>
    public void Observe(LearnedKey key, double cutS, double standardS)
    {
        if (!(cutS > 0 && standardS > 0) || !double.IsFinite(cutS) || !double.IsFinite(standardS))
            return;
        if (!_bySaw.TryGetValue(key.Saw, out var kinds))
            _bySaw[key.Saw] = kinds = new(ByName);
        kinds[key] = Of(kinds, key).With(Math.Log(cutS / standardS), Pooled(kinds.Values));
    }

    /// <summary>Learns from one completed cut of a job that has no standard.</summary>
    /// <param name="saw">Name of the saw.</param>
    /// <param name="job">The job's identifier.</param>
    /// <param name="cutS">How long it took, s, above zero.</param>
    public void ObserveJob(string saw, string job, double cutS)
    {
        if (!(cutS > 0) || !double.IsFinite(cutS))
            return;
        var seen = _byJob.GetValueOrDefault((saw, job));
        _byJob.Remove((saw, job));
        if (_byJob.Count == MostJobs)
            _byJob.RemoveAt(0);
        _byJob.Add((saw, job), seen.With(Math.Log(cutS), Scatter * Scatter));
    }

    /// <summary>What the next cut of a kind is expected to take.</summary>
    /// <param name="key">The kind of cut.</param>
    /// <param name="standardS">Its standard time, s.</param>
    /// <param name="coverage">Share of cuts that the interval shall hold, above 0 and below 1.</param>
    public LearnedTime Predict(LearnedKey key, double standardS, double coverage = 0.95)
    {
        var kinds = _bySaw.GetValueOrDefault(key.Saw) ?? None;
        var own = Of(kinds, key);
        var scatter2 = ((ScatterWeight * Pooled(kinds.Values)) + own.Squares) / (ScatterWeight + Math.Max(0, own.Cuts - 1));
        var (mean, spread2) = Saw(kinds, key);
        var variance = 1 / ((1 / spread2) + (own.Cuts / scatter2));
        var share = own.Cuts / scatter2 * variance;
        var logRatio = ((1 - share) * mean) + (share * own.Mean);
        return Interval(standardS, logRatio, scatter2, variance, ScatterWeight + Math.Max(0, own.Cuts - 1), coverage, own.Cuts, share);
    }

    /// <summary>What the next cut of a job without a standard is expected to take; null where the saw has not cut it yet.</summary>
    /// <param name="saw">Name of the saw.</param>
    /// <param name="job">The job's identifier.</param>
    /// <param name="coverage">Share of cuts that the interval shall hold, above 0 and below 1.</param>
    public LearnedTime? PredictJob(string saw, string job, double coverage = 0.95)
    {
        if (!_byJob.TryGetValue((saw, job), out var own))
            return null;
        var freedom = ScatterWeight + Math.Max(0, own.Cuts - 1);
        var scatter2 = ((ScatterWeight * Scatter * Scatter) + own.Squares) / freedom;
        return Interval(1, own.Mean, scatter2, scatter2 / own.Cuts, freedom, coverage, own.Cuts, 1);
    }

    /// <summary>Everything learned, in a fixed order, fit to be stored.</summary>
    public LearnedState Save() => new(
        [.. _bySaw.Values.SelectMany(kinds => kinds).Select(k => new LearnedKind(k.Key, k.Value.Cuts, k.Value.Mean, k.Value.Squares))
            .OrderBy(k => k.Key, ByName)],
        [.. _byJob.Select(j => new LearnedJob(j.Key.Saw, j.Key.Job, j.Value.Cuts, j.Value.Mean, j.Value.Squares))]);

    /// <summary>Goes on from what was stored; entries that make no sense are left out.</summary>
    public static LearnedTimes Restore(LearnedState state)
    {
        var times = new LearnedTimes();
        foreach (var kind in state.Kinds.Where(k => Sound(k.Cuts, k.MeanLog, k.Squares)))
        {
            if (!times._bySaw.TryGetValue(kind.Key.Saw, out var kinds))
                times._bySaw[kind.Key.Saw] = kinds = new(ByName);
            kinds[kind.Key] = new Moments(kind.Cuts, kind.MeanLog, kind.Squares);
        }

        foreach (var job in state.Jobs.Where(j => Sound(j.Cuts, j.MeanLog, j.Squares)))
            times._byJob[(job.Saw, job.Job)] = new Moments(job.Cuts, job.MeanLog, job.Squares);
        return times;
    }

    private static Moments Of(SortedDictionary<LearnedKey, Moments> kinds, LearnedKey key) => kinds.TryGetValue(key, out var found) ? found : default;

    private static bool Sound(double cuts, double mean, double squares) => cuts > 0 && double.IsFinite(cuts + mean + squares) && squares >= 0;

    /// <summary>Variance within kinds, pooled over a saw's kinds and what is believed beforehand.</summary>
    private static double Pooled(IEnumerable<Moments> kinds)
    {
        var (squares, freedom) = (ScatterWeight * Scatter * Scatter, ScatterWeight);
        foreach (var kind in kinds)
        {
            squares += kind.Squares;
            freedom += Math.Max(0, kind.Cuts - 1);
        }

        return squares / freedom;
    }

    /// <summary>Where a kind of cut is expected on a saw before its own history counts: mean and variance of the log ratio, from the saw's other kinds.</summary>
    private static (double Mean, double Spread2) Saw(SortedDictionary<LearnedKey, Moments> kinds, LearnedKey but)
    {
        var scatter2 = Pooled(kinds.Values);
        var others = kinds.Where(k => k.Key != but).Select(k => (k.Value.Mean, Noise: scatter2 / k.Value.Cuts)).ToList();
        var (mean, sawVariance) = ShrunkMean(others, KindSpread * KindSpread);
        var spread2 = KindSpreadWeight * KindSpread * KindSpread;
        foreach (var (other, noise) in others)
            spread2 += Math.Max(0, ((other - mean) * (other - mean)) - noise);
        spread2 /= KindSpreadWeight + others.Count;
        (mean, sawVariance) = ShrunkMean(others, spread2);
        return (mean, spread2 + sawVariance);
    }

    /// <summary>The saw's mean, shrunk toward 0 (the catalogue), and its variance.</summary>
    private static (double Mean, double Variance) ShrunkMean(List<(double Mean, double Noise)> kinds, double spread2)
    {
        var (weight, sum) = (1 / (SawSpread * SawSpread), 0.0);
        foreach (var (mean, noise) in kinds)
        {
            weight += 1 / (spread2 + noise);
            sum += mean / (spread2 + noise);
        }

        return (sum / weight, 1 / weight);
    }

    private static LearnedTime Interval(double standardS, double logRatio, double scatter2, double variance, double freedom, double coverage, double cuts, double share)
    {
        var reach = StudentT.InvCDF(0, 1, freedom, 0.5 + (coverage / 2)) * Math.Sqrt(scatter2 + variance);
        return new LearnedTime(standardS * Math.Exp(logRatio), standardS * Math.Exp(logRatio - reach), standardS * Math.Exp(logRatio + reach), cuts, share, variance);
    }

    /// <summary>Number, mean and sum of squared deviations, updated one by one (Welford 1962).</summary>
    private readonly record struct Moments(double Cuts, double Mean, double Squares)
    {
        public Moments With(double value, double usualVariance)
        {
            var held = value;
            if (Cuts >= HeldFrom)
            {
                var reach = Held * Math.Sqrt(((ScatterWeight * usualVariance) + Squares) / (ScatterWeight + Cuts - 1));
                held = Math.Clamp(value, Mean - reach, Mean + reach);
            }

            var keep = Cuts < Memory ? 1 : (Memory - 1) / Cuts;
            var cuts = (Cuts * keep) + 1;
            var step = held - Mean;
            var mean = Mean + (step / cuts);
            return new Moments(cuts, mean, (Squares * keep) + (step * (held - mean)));
        }
    }
}
