namespace SawEdge.Core.Load;

/// <summary>The stretch of a cut that stands out most.</summary>
/// <param name="Statistic">By how many standard deviations, signed: above 0 for more load.</param>
/// <param name="From">First bin.</param>
/// <param name="To">Last bin.</param>
/// <param name="Excess">Mean of ln(load / expected) in it.</param>
/// <param name="Spread">Standard deviation of that in a normal cut.</param>
internal readonly record struct ShapeFinding(double Statistic, int From, int To, double Excess, double Spread);

/// <summary>
/// What a normal cut of a kind looks like along its depth: mean and spread of rho - r in each bin, learned for each kind of cut,
/// the spread of a bin shrunk toward what is believed of it (inverse gamma), the mean toward 0.
/// </summary>
internal sealed class ShapeModel
{
    /// <summary>Kinds of cut that are remembered.</summary>
    public const int Kinds = 16;

    private const int LongestWindow = 4;

    // What a kind looks like is learned from its first cuts before others are held against it.
    private const int FirstCuts = 3;

    // A kind remembers about this many cuts.
    private const double Memory = 150;

    // Belief before a kind was seen; judgement, no source: a bin's own offset and spread, where the load jumps and elsewhere, and
    // for how many cuts that belief counts.
    private const double OffsetSd = 0.06;
    private const double EdgeOffsetSd = 0.4;
    private const double UsualSpread = 0.04;
    private const double EdgeSpread = 0.25;
    private const double SpreadWeight = 6;

    // Noise of the load that does not fall with it, as a share of the cut's mean net load: it counts where the load is small.
    private const double FloorShare = 0.01;

    private static readonly Kind Unseen = new(new double[Bins], new double[Bins], new double[Bins]);

    private readonly KindSlots _slots = new(Kinds, 0);
    private readonly Kind[] _kinds = new Kind[Kinds];
    private double _correlation = 0.3;

    /// <summary>Bins of a profile.</summary>
    private const int Bins = Cycles.DepthProfile.DefaultBins;

    /// <summary>Mean of each bin for a kind of cut; zeros where it is new.</summary>
    public ReadOnlySpan<double> MeanOf(string kind) => KindOf(kind).Mean;

    /// <summary>Standard deviation that a bin's rho - r is expected to have about its mean.</summary>
    /// <param name="kind">Kind of cut.</param>
    /// <param name="residuals">The cut.</param>
    /// <param name="spread">Room for every bin.</param>
    public void SpreadOf(string kind, CutResiduals residuals, Span<double> spread) => SpreadOf(KindOf(kind), residuals, spread);

    private static void SpreadOf(Kind known, CutResiduals residuals, Span<double> spread)
    {
        var meanKw = MeanKw(residuals);
        for (var j = 0; j < Bins; j++)
        {
            var believed = Believed(residuals, j, meanKw);
            var variance = ((SpreadWeight * believed) + known.Squares[j]) / (SpreadWeight + known.Cuts[j]);
            var offset = OffsetVariance(residuals, j);
            spread[j] = Math.Sqrt(variance + (1 / ((1 / offset) + (known.Cuts[j] / variance))));
        }
    }

    /// <summary>Mean and standard deviation of each bin's rho - r for a next cut of a kind. Nothing changes by it.</summary>
    /// <param name="kind">Kind of cut.</param>
    /// <param name="expected">The cut as the model expects it.</param>
    /// <param name="mean">Filled with the means.</param>
    /// <param name="spread">Filled with the standard deviations.</param>
    public void Peek(string kind, CutResiduals expected, Span<double> mean, Span<double> spread)
    {
        var known = _slots.Peek(kind) is { } slot ? _kinds[slot] : null;
        SpreadOf(known ?? Unseen, expected, spread);
        (known ?? Unseen).Mean.CopyTo(mean);
    }

    /// <summary>Whether a kind was seen often enough for its looks to count among those of the saw.</summary>
    public bool IsKnown(string kind) => KindOf(kind).Seen >= 10;

    /// <summary>The stretch of one to four bins that stands out most; null where too few bins say anything, and for the first cuts of a kind.</summary>
    /// <param name="kind">Kind of cut.</param>
    /// <param name="residuals">The cut.</param>
    /// <param name="level">Its level r.</param>
    /// <param name="standardised">Filled with each bin's deviation in standard deviations; NaN where it says nothing.</param>
    public ShapeFinding? Look(string kind, CutResiduals residuals, double level, Span<double> standardised)
    {
        Span<double> spread = stackalloc double[Bins];
        SpreadOf(kind, residuals, spread);
        var mean = MeanOf(kind);
        var known = 0;
        for (var j = 0; j < Bins; j++)
        {
            standardised[j] = (residuals.Rho[j] - level - mean[j]) / spread[j];
            known += double.IsNaN(standardised[j]) ? 0 : 1;
        }

        if (known < Bins / 3 || KindOf(kind).Seen < FirstCuts)
            return null;
        var best = default(ShapeFinding);
        for (var length = 1; length <= LongestWindow; length++)
        {
            var scale = 1 / Math.Sqrt(VarianceOfSum(length));
            for (var from = 0; from + length <= Bins; from++)
            {
                var (sum, excess, square) = (0.0, 0.0, 0.0);
                for (var j = from; j < from + length; j++)
                {
                    sum += standardised[j];
                    excess += residuals.Rho[j] - level - mean[j];
                    square += spread[j];
                }

                if (Math.Abs(sum * scale) > Math.Abs(best.Statistic))
                    best = new ShapeFinding(sum * scale, from, from + length - 1, excess / length, square / length * Math.Sqrt(VarianceOfSum(length)) / length);
            }
        }

        return best;
    }

    /// <summary>Takes in an accepted cut that was looked at last.</summary>
    public void Learn(string kind, CutResiduals residuals, double level, ReadOnlySpan<double> standardised)
    {
        var known = KindOf(kind);
        var (products, squares) = (0.0, 0.0);
        for (var j = 0; j < Bins; j++)
        {
            if (double.IsNaN(standardised[j]))
                continue;
            if (j > 0 && !double.IsNaN(standardised[j - 1]))
            {
                products += Math.Clamp(standardised[j], -3, 3) * Math.Clamp(standardised[j - 1], -3, 3);
                squares += Math.Pow(Math.Clamp(standardised[j], -3, 3), 2);
            }

            var keep = known.Cuts[j] < Memory ? 1 : (Memory - 1) / known.Cuts[j];
            var cuts = (known.Cuts[j] * keep) + 1;
            var deviation = residuals.Rho[j] - level - known.Mean[j];

            // Far out counts as four standard deviations out; the first few cuts tell where the middle is and are taken whole.
            if (known.Cuts[j] >= 5)
                deviation *= Math.Min(1, 4 / Math.Abs(standardised[j]));
            var gain = 1 / (cuts + (UsualSpread * UsualSpread / OffsetVariance(residuals, j)));
            known.Mean[j] += gain * deviation;
            known.Squares[j] = (known.Squares[j] * keep) + (deviation * deviation * (1 - gain));
            known.Cuts[j] = cuts;
        }

        known.Seen++;
        if (squares > 0)
            _correlation += 0.02 * (Math.Clamp(products / squares, -0.2, 0.9) - _correlation);
    }

    /// <summary>Writes everything down.</summary>
    public void Save(MemoryWriter to)
    {
        to.Number(_correlation);
        _slots.Save(to);
        foreach (var kind in _kinds)
        {
            to.Flag(kind is not null);
            if (kind is null)
                continue;
            to.Number(kind.Seen);
            to.Numbers(kind.Mean);
            to.Numbers(kind.Squares);
            to.Numbers(kind.Cuts);
        }
    }

    /// <summary>Goes on from what was written down.</summary>
    public static ShapeModel Restore(MemoryReader from)
    {
        var model = new ShapeModel { _correlation = from.Number() };
        model._slots.Restore(from);
        for (var i = 0; i < Kinds; i++)
        {
            if (!from.Flag())
                continue;
            var seen = from.Number();
            model._kinds[i] = new Kind(Sized(from.Numbers()), Sized(from.Numbers()), Sized(from.Numbers())) { Seen = seen };
        }

        return model;
    }

    private static double[] Sized(double[] values) => values.Length == Bins ? values : throw new FormatException("What was stored of the load score is damaged.");

    private static double OffsetVariance(CutResiduals residuals, int bin)
    {
        var sd = residuals.IsEdge[bin] ? EdgeOffsetSd : OffsetSd;
        return sd * sd;
    }

    private static double MeanKw(CutResiduals residuals)
    {
        var (sum, count) = (0.0, 0);
        for (var j = 0; j < residuals.ModelKw.Length; j++)
        {
            if (double.IsNaN(residuals.Rho[j]))
                continue;
            sum += residuals.ModelKw[j] * Math.Exp(residuals.Rho[j]);
            count++;
        }

        return count > 0 ? sum / count : double.NaN;
    }

    private static double Believed(CutResiduals residuals, int bin, double meanKw)
    {
        var netKw = double.IsNaN(residuals.Rho[bin]) ? meanKw : residuals.ModelKw[bin] * Math.Exp(residuals.Rho[bin]);
        var floor = FloorShare * meanKw / netKw;
        var usual = residuals.IsEdge[bin] ? EdgeSpread : UsualSpread;
        return (usual * usual) + (double.IsFinite(floor) ? floor * floor : 0);
    }

    // Neighbouring bins scatter together: of a first-order autoregression the sum over n has n + 2 sum (n - i) c^i.
    private double VarianceOfSum(int length)
    {
        var variance = (double)length;
        for (var i = 1; i < length; i++)
            variance += 2 * (length - i) * Math.Pow(_correlation, i);
        return variance;
    }

    private Kind KindOf(string name)
    {
        var slot = _slots.Find(name.Length > 0 ? name : "-", out var isNew)!.Value;
        if (isNew || _kinds[slot] is null)
            _kinds[slot] = new Kind(new double[Bins], new double[Bins], new double[Bins]);
        return _kinds[slot];
    }

    private sealed record Kind(double[] Mean, double[] Squares, double[] Cuts)
    {
        public double Seen { get; set; }
    }
}
