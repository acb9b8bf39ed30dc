namespace SawEdge.Core.Statistics;

/// <summary>
/// Excesses and the likelihood of generalised Pareto distributions for them. Everything inside is in units of the greatest
/// excess, so that no input overflows.
/// </summary>
/// <remarks>
/// With theta = shape / scale, the transformed excesses ln(1 + theta x) / theta are exponential with mean scale, cut off at the
/// transformed truncation (Grimshaw 1993, with truncation and prior added). So a pass over the sample is needed once per theta
/// only; the best scale for it follows from the sums, and the search is along theta alone.
/// </remarks>
internal readonly ref struct ParetoSample
{
    /// <summary>Scales below this share of the mean are not looked for: with many equal excesses near 0 the likelihood has no end.</summary>
    private const double LeastScale = 1e-6;

    /// <summary>Greatest scale, in truncations.</summary>
    private const double GreatestScale = 10;

    private const double Near = 1e-9;
    private const double Step = 1.5;
    private readonly ReadOnlySpan<double> _excesses;
    private readonly double _unit;
    private readonly double _truncatedAt;
    private readonly double _mean;

    /// <summary>Takes a sample.</summary>
    /// <param name="excesses">Excesses, not all 0.</param>
    /// <param name="unit">The greatest of them.</param>
    /// <param name="truncatedAt">Where the sample is cut off, in units; may be infinite.</param>
    public ParetoSample(ReadOnlySpan<double> excesses, double unit, double truncatedAt)
    {
        _excesses = excesses;
        _unit = unit;
        _truncatedAt = truncatedAt;
        foreach (var excess in excesses)
            _mean += excess / unit;
        _mean /= excesses.Length;
    }

    private double LowestScale => LeastScale * _mean;

    private double HighestScale => double.IsFinite(_truncatedAt) ? GreatestScale * _truncatedAt : GreatestScale;

    /// <summary>The likeliest scale and shape.</summary>
    /// <param name="shapeMean">Mean of the prior of the shape.</param>
    /// <param name="shapeSd">Its standard deviation, above 0.</param>
    public (double Scale, double Shape) Fit(double shapeMean, double shapeSd)
    {
        // t = ln(1 + theta) runs over all theta for which no excess lies beyond the end of the distribution.
        var profile = new Profile(this, shapeMean, 1 / (2 * shapeSd * shapeSd * _excesses.Length));
        var last = Math.Log(1 + (1 / LowestScale));
        var (best, bestValue) = (0.0, double.NegativeInfinity);
        for (var t = -10 * Step; t < last; t += Step)
        {
            var value = profile.At(t);
            if (value > bestValue)
                (best, bestValue) = (t, value);
        }

        best = Maximum.Between(profile, best - Step, Math.Min(best + Step, last), Near);
        var (scale, theta, _) = profile.Best(best);
        return (scale, Math.Clamp(theta * scale, GeneralizedPareto.LeastShape, GeneralizedPareto.GreatestShape));
    }

    /// <summary>The likeliest scale for a shape that is known.</summary>
    public double ScaleOf(double shape)
    {
        if (shape == 0 && double.IsInfinity(_truncatedAt))
            return _mean;

        // With a shape below 0 the end lies at -scale / shape, and no excess beyond it.
        var low = Math.Max(LowestScale, -shape * (1 + 1e-12));
        return Math.Exp(Maximum.Between(new ShapeKnown(this, shape), Math.Log(low), Math.Log(HighestScale), Near));
    }

    /// <summary>Mean of ln(1 + theta x).</summary>
    private double MeanLog(double theta)
    {
        var sum = 0.0;
        foreach (var excess in _excesses)
            sum += Accurate.LogOnePlus(theta * (excess / _unit));
        return sum / _excesses.Length;
    }

    /// <summary>The transformed truncation.</summary>
    private double Transformed(double theta) =>
        theta == 0 ? _truncatedAt : theta * _truncatedAt <= -1 ? double.PositiveInfinity : Accurate.LogOnePlus(theta * _truncatedAt) / theta;

    /// <summary>Logarithm of the share of an exponential distribution below the transformed truncation.</summary>
    private static double LogShareBelow(double truncation, double scale) =>
        double.IsInfinity(truncation) ? 0 : Math.Log(-Accurate.ExpLessOne(-truncation / scale));

    /// <summary>The likelihood of the best scale, by ln(1 + theta).</summary>
    private readonly ref struct Profile(ParetoSample sample, double shapeMean, double penalty) : IFunction
    {
        private readonly ParetoSample _sample = sample;

        public double At(double t) => Best(t).LogLikelihood;

        public (double Scale, double Theta, double LogLikelihood) Best(double t)
        {
            var theta = Accurate.ExpLessOne(t);
            var log = _sample.MeanLog(theta);
            var mean = theta == 0 ? _sample._mean : log / theta;
            var given = new ThetaKnown(theta, log, mean, _sample.Transformed(theta), shapeMean, penalty);
            var shapeEnd = theta > 0 ? GeneralizedPareto.GreatestShape / theta : theta < 0 ? GeneralizedPareto.LeastShape / theta : double.PositiveInfinity;
            var highest = Math.Min(_sample.HighestScale, shapeEnd);

            // The likelihood alone is greatest at the mean, or above it where the sample is truncated; the prior alone where
            // the shape is its mean. The best lies between.
            var low = mean;
            var high = double.IsInfinity(_sample._truncatedAt) ? mean : highest;
            if (penalty > 0 && theta != 0)
            {
                var prior = Math.Max(shapeMean / theta, 0);
                low = Math.Min(low, prior);
                high = Math.Max(high, prior);
            }

            low = Math.Clamp(low, Math.Min(_sample.LowestScale, highest), highest);
            high = Math.Clamp(high, low, highest);
            var scale = high == low ? low : Math.Exp(Maximum.Between(given, Math.Log(low), Math.Log(high), Near));
            return (scale, theta, given.At(Math.Log(scale)));
        }
    }

    /// <summary>Mean penalised log likelihood by the logarithm of the scale, theta being known.</summary>
    private readonly struct ThetaKnown(double theta, double meanLog, double mean, double truncation, double shapeMean, double penalty) : IFunction
    {
        public double At(double logScale)
        {
            var scale = Math.Exp(logScale);
            var off = (theta * scale) - shapeMean;
            return -logScale - meanLog - (mean / scale) - LogShareBelow(truncation, scale) - (penalty * off * off);
        }
    }

    /// <summary>Mean log likelihood by the logarithm of the scale, the shape being known.</summary>
    private readonly ref struct ShapeKnown(ParetoSample sample, double shape) : IFunction
    {
        private readonly ParetoSample _sample = sample;

        public double At(double logScale)
        {
            var scale = Math.Exp(logScale);
            var theta = shape / scale;
            var log = _sample.MeanLog(theta);
            var mean = theta == 0 ? _sample._mean : log / theta;
            return -logScale - log - (mean / scale) - LogShareBelow(_sample.Transformed(theta), scale);
        }
    }
}
