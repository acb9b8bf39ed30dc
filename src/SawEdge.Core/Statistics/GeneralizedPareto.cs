namespace SawEdge.Core.Statistics;

/// <summary>
/// The generalised Pareto distribution of excesses over a high threshold (Pickands 1975): the share above x is
/// (1 + shape x / scale)^(-1 / shape), and exp(-x / scale) where the shape is 0.
/// </summary>
/// <param name="Scale">Scale, unit of the excesses. 0: all the weight lies on an excess of 0.</param>
/// <param name="Shape">Shape: below 0 the tail ends at -scale / shape, above 0 it is heavier than an exponential one.</param>
public readonly record struct GeneralizedPareto(double Scale, double Shape)
{
    /// <summary>Least shape of a fit: below it, the estimate by maximum likelihood is not regular (Smith 1985).</summary>
    public const double LeastShape = -0.5;

    /// <summary>Greatest shape of a fit: above it, the distribution has no mean.</summary>
    public const double GreatestShape = 1;

    /// <summary>Fewer excesses than this say nothing about the shape.</summary>
    public const int FewestForShape = 5;

    /// <summary>Priors narrower than this leave nothing to fit.</summary>
    private const double KnownShape = 1e-6;

    /// <summary>Share of the distribution above an excess.</summary>
    /// <param name="excess">Excess over the threshold; 1 below 0.</param>
    public double Survival(double excess) => Math.Exp(LogSurvival(excess));

    /// <summary>Natural logarithm of <see cref="Survival"/>, which still tells far out excesses apart.</summary>
    /// <param name="excess">Excess over the threshold; 0 below 0.</param>
    /// <returns>The logarithm; negative infinity beyond a finite end.</returns>
    public double LogSurvival(double excess)
    {
        if (excess <= 0)
            return 0;
        var ratio = excess / Scale;
        var bend = Shape * ratio;
        if (bend <= -1)
            return double.NegativeInfinity;

        // The logarithm of 1 + bend is bend to the last digit.
        if (Shape == 0 || Math.Abs(bend) < 1e-16)
            return -ratio;
        return -Accurate.LogOnePlus(bend) / Shape;
    }

    /// <summary>The excess above which a share of the distribution lies: the inverse of <see cref="Survival"/>.</summary>
    /// <param name="survival">Share above, 0 to 1.</param>
    /// <returns>The excess; for 0 the end of the distribution, which may be infinite.</returns>
    /// <exception cref="ArgumentOutOfRangeException">A share outside 0 to 1.</exception>
    public double Quantile(double survival)
    {
        if (!(survival is >= 0 and <= 1))
            throw new ArgumentOutOfRangeException(nameof(survival), survival, "A share from 0 to 1 is needed.");
        var depth = -Math.Log(survival);
        if (depth == 0)
            return 0;
        var bend = Shape * depth;
        return Shape == 0 || Math.Abs(bend) < 1e-16 ? Scale * depth : Scale * (Accurate.ExpLessOne(bend) / Shape);
    }

    /// <summary>
    /// Fits by maximum likelihood, or penalised likelihood where the shape has a prior. A shape stays within
    /// <see cref="LeastShape"/> and <see cref="GreatestShape"/>. Deterministic.
    /// </summary>
    /// <param name="excesses">
    /// Excesses over the threshold, not below 0, any order. With fewer than <see cref="FewestForShape"/> only the scale is fitted
    /// and the shape is <paramref name="shapeMean"/>; with none the scale is NaN.
    /// </param>
    /// <param name="truncatedAt">
    /// Excesses from here on are not in the sample because they were left out on purpose: the likelihood is that of a
    /// distribution cut off here. An excess beyond moves it out to there. Where the sample does not thin out towards it, no
    /// scale is the likeliest, and it is held at 10 times this value.
    /// </param>
    /// <param name="shapeMean">Mean of the normal prior of the shape.</param>
    /// <param name="shapeSd">Standard deviation of that prior; infinite: none; below 1e-6: the shape is <paramref name="shapeMean"/>.</param>
    /// <exception cref="ArgumentException">An excess that is not finite or below 0; the message says which.</exception>
    /// <exception cref="ArgumentOutOfRangeException">A prior that is none, or a truncation that is NaN.</exception>
    public static GeneralizedPareto Fit(ReadOnlySpan<double> excesses, double truncatedAt = double.PositiveInfinity, double shapeMean = 0, double shapeSd = double.PositiveInfinity)
    {
        if (double.IsNaN(truncatedAt))
            throw new ArgumentOutOfRangeException(nameof(truncatedAt), truncatedAt, "A number is needed; positive infinity where nothing was left out.");
        if (!double.IsFinite(shapeMean))
            throw new ArgumentOutOfRangeException(nameof(shapeMean), shapeMean, "A finite shape is needed.");
        if (!(shapeSd >= 0))
            throw new ArgumentOutOfRangeException(nameof(shapeSd), shapeSd, "A standard deviation of 0 or more is needed; positive infinity for no prior.");
        var greatest = 0.0;
        for (var i = 0; i < excesses.Length; i++)
        {
            if (!(excesses[i] >= 0 && double.IsFinite(excesses[i])))
                throw new ArgumentException(string.Create(System.Globalization.CultureInfo.InvariantCulture, $"Excess {i} is {excesses[i]}; finite numbers from 0 on are needed."), nameof(excesses));
            greatest = Math.Max(greatest, excesses[i]);
        }

        var shapeAlone = Math.Clamp(shapeMean, LeastShape, GreatestShape);
        if (excesses.IsEmpty)
            return new GeneralizedPareto(double.NaN, shapeAlone);
        if (greatest == 0)
            return new GeneralizedPareto(0, shapeAlone);

        var sample = new ParetoSample(excesses, greatest, Math.Max(truncatedAt, greatest) / greatest);
        var (scale, shape) = excesses.Length < FewestForShape || shapeSd < KnownShape
            ? (sample.ScaleOf(shapeAlone), shapeAlone)
            : sample.Fit(shapeMean, shapeSd);
        return new GeneralizedPareto(Math.Min(scale * greatest, double.MaxValue), shape);
    }
}
