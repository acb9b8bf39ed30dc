using System.Buffers;
using MathNet.Numerics.Distributions;

namespace SawEdge.Core.Statistics;

/// <summary>A straight line through points of which some may be far out.</summary>
/// <param name="Slope">Median of the slopes of all pairs of points; NaN where no two points differ in x.</param>
/// <param name="Intercept">Median of y less <paramref name="Slope"/> times median of x.</param>
/// <param name="Low">Lower end of the confidence interval of the slope.</param>
/// <param name="High">Upper end of the confidence interval of the slope.</param>
public readonly record struct TheilSenFit(double Slope, double Intercept, double Low, double High);

/// <summary>The Theil-Sen estimate of a line (Theil 1950, Sen 1968).</summary>
public static class TheilSen
{
    /// <summary>
    /// Fits a line. Time and memory grow with the square of the number of points: made for up to a few hundred. Points of which
    /// a coordinate is not finite are left out.
    /// </summary>
    /// <param name="x">Positions.</param>
    /// <param name="y">Values.</param>
    /// <param name="confidence">Share of samples whose interval holds the true slope, between 0 and 1.</param>
    /// <returns>The line with the interval of its slope (Sen 1968, with the correction for ties); NaN where no two points differ in x.</returns>
    /// <exception cref="ArgumentException">Not as many values as positions.</exception>
    /// <exception cref="ArgumentOutOfRangeException">A confidence outside 0 to 1.</exception>
    public static TheilSenFit Fit(ReadOnlySpan<double> x, ReadOnlySpan<double> y, double confidence = 0.95)
    {
        if (x.Length != y.Length)
            throw new ArgumentException($"{x.Length} positions, but {y.Length} values; each position needs one.", nameof(y));
        if (!(confidence is > 0 and < 1))
            throw new ArgumentOutOfRangeException(nameof(confidence), confidence, "A confidence between 0 and 1 is needed, for example 0.95.");

        var all = ArrayPool<double>.Shared.Rent(Math.Max(1, (2 * x.Length) + (int)Pairs(x.Length)));
        try
        {
            var xs = all.AsSpan(0, x.Length);
            var ys = all.AsSpan(x.Length, x.Length);
            var count = 0;
            for (var i = 0; i < x.Length; i++)
            {
                if (!double.IsFinite(x[i]) || !double.IsFinite(y[i]))
                    continue;
                xs[count] = x[i];
                ys[count++] = y[i];
            }

            return Fit(xs[..count], ys[..count], all.AsSpan(2 * x.Length), confidence);
        }
        finally
        {
            ArrayPool<double>.Shared.Return(all);
        }
    }

    private static TheilSenFit Fit(Span<double> x, Span<double> y, Span<double> slopes, double confidence)
    {
        var count = 0;
        for (var i = 1; i < x.Length; i++)
        {
            for (var j = 0; j < i; j++)
            {
                // The same x, or a difference that no number holds.
                var slope = (y[i] - y[j]) / (x[i] - x[j]);
                if (x[i] != x[j] && !double.IsNaN(slope))
                    slopes[count++] = slope;
            }
        }

        if (count == 0)
            return new TheilSenFit(double.NaN, double.NaN, double.NaN, double.NaN);
        slopes = slopes[..count];
        var median = RobustStatistics.Median(slopes);
        var intercept = RobustStatistics.Median(y) - (median * RobustStatistics.Median(x));

        // Sen 1968, equation 2.6: the variance of Kendall's score, less what ties take away from it.
        var variance = (Ties(x.Length) - TiesIn(x) - TiesIn(y)) / 18;
        var half = Normal.InvCDF(0, 1, 0.5 + (confidence / 2)) * Math.Sqrt(Math.Max(0, variance));
        var low = Rank(((count - half) / 2), 1, count);
        var high = Rank(((count + half) / 2), 0, count);
        return new TheilSenFit(median, intercept, Selection.Select(slopes, low), Selection.Select(slopes, high));
    }

    private static int Rank(double place, int less, int count) => Math.Clamp((int)Math.Round(place) - less, 0, count - 1);

    private static long Pairs(long count) => count * (count - 1) / 2;

    private static double Ties(double count) => count * (count - 1) * ((2 * count) + 5);

    private static double TiesIn(Span<double> values)
    {
        values.Sort();
        var (sum, run) = (0.0, 1);
        for (var i = 1; i <= values.Length; i++)
        {
            if (i < values.Length && values[i] == values[i - 1])
            {
                run++;
                continue;
            }

            sum += Ties(run);
            run = 1;
        }

        return sum;
    }
}
