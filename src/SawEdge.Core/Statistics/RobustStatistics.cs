namespace SawEdge.Core.Statistics;

/// <summary>Location and scale of samples in which some values may be far out.</summary>
public static class RobustStatistics
{
    /// <summary>Standard deviation of a normal distribution over its median absolute deviation: 1 / (the normal quantile of 0.75).</summary>
    public const double MadConstant = 1.482602218505602;

    private const int OnStack = 256;
    private const int MostSteps = 500;

    /// <summary>The median; of an even number of values the mean of the two in the middle. NaN values are left out.</summary>
    /// <param name="values">The values; their order is changed.</param>
    /// <returns>The median, NaN where there is nothing.</returns>
    public static double Median(Span<double> values)
    {
        values = Known(values);
        if (values.IsEmpty)
            return double.NaN;
        var middle = Selection.Select(values, values.Length / 2);
        if (values.Length % 2 == 1)
            return middle;
        return Middle(Selection.Greatest(values[..(values.Length / 2)]), middle);
    }

    /// <summary>
    /// The median absolute deviation from the median, times <see cref="MadConstant"/>: an estimate of the standard deviation
    /// that half of the values cannot spoil. NaN values are left out.
    /// </summary>
    /// <param name="values">The values; their order is changed.</param>
    /// <returns>The estimate, NaN where there is nothing.</returns>
    public static double Mad(Span<double> values)
    {
        values = Known(values);
        if (values.IsEmpty)
            return double.NaN;
        values.Sort();
        var middle = values.Length / 2;
        var median = values.Length % 2 == 1 ? values[middle] : Middle(values[middle - 1], values[middle]);

        // Deviations grow from the median to both ends, so the ordered deviations are a merge of the two sides.
        var (left, right) = (middle - 1, middle);
        var (last, beforeLast) = (0.0, 0.0);
        for (var taken = 0; taken <= middle; taken++)
        {
            beforeLast = last;
            if (right >= values.Length || (left >= 0 && median - values[left] <= values[right] - median))
                last = median - values[left--];
            else
                last = values[right++] - median;
        }

        return MadConstant * (values.Length % 2 == 1 ? last : Middle(beforeLast, last));
    }

    /// <summary>
    /// Huber's M-estimate of location with a known scale (Huber 1964): the mean, in which values further than
    /// <paramref name="k"/> scales away count as if they lay there. Solved by means weighted anew, from the weighted median on.
    /// </summary>
    /// <param name="values">The values; those that are not finite are left out.</param>
    /// <param name="weights">A weight for each value; values with a weight that is not above 0 are left out.</param>
    /// <param name="scale">Standard deviation of a value, unit of the values; 0 gives the weighted median.</param>
    /// <param name="k">Where the influence ends, in scales. The default gives 95 % efficiency at the normal distribution (Huber 1981).</param>
    /// <returns>The location, NaN where nothing is left or the scale is NaN.</returns>
    /// <exception cref="ArgumentException">Not as many weights as values.</exception>
    public static double HuberMean(ReadOnlySpan<double> values, ReadOnlySpan<double> weights, double scale, double k = 1.345)
    {
        var location = WeightedMedian(values, weights);
        if (double.IsNaN(location) || double.IsNaN(scale))
            return double.NaN;
        if (scale <= 0)
            return location;

        var reach = k * scale;
        for (var step = 0; step < MostSteps; step++)
        {
            var (sum, total) = (0.0, 0.0);
            for (var i = 0; i < values.Length; i++)
            {
                if (!Counts(values[i], weights[i]))
                    continue;

                // Differences from the present location: sums of values with many equal leading digits would lose the rest.
                var residual = values[i] - location;
                var distance = Math.Abs(residual);
                var weight = distance <= reach ? weights[i] : weights[i] * (reach / distance);
                total += weight;
                sum += distance <= reach ? weight * residual : weights[i] * Math.CopySign(reach, residual);
            }

            var change = sum / total;
            if (!double.IsFinite(change))
                return location;
            location += change;
            if (Math.Abs(change) <= (1e-13 * scale) + (4e-16 * Math.Abs(location)))
                break;
        }

        return location;
    }

    /// <summary>
    /// The weighted median: as much weight lies below as above. Where exactly half the weight lies up to one value, the mean of
    /// that value and the next, so that equal weights give the median.
    /// </summary>
    /// <param name="values">The values; those that are not finite are left out.</param>
    /// <param name="weights">A weight for each value; values with a weight that is not above 0 are left out.</param>
    /// <returns>The weighted median, NaN where nothing is left.</returns>
    /// <exception cref="ArgumentException">Not as many weights as values.</exception>
    public static double WeightedMedian(ReadOnlySpan<double> values, ReadOnlySpan<double> weights)
    {
        if (values.Length != weights.Length)
            throw new ArgumentException($"{values.Length} values, but {weights.Length} weights; each value needs one.", nameof(weights));
        Span<double> ordered = values.Length <= OnStack ? stackalloc double[values.Length] : new double[values.Length];
        Span<double> weight = values.Length <= OnStack ? stackalloc double[values.Length] : new double[values.Length];
        var count = 0;
        var total = 0.0;
        for (var i = 0; i < values.Length; i++)
        {
            if (!Counts(values[i], weights[i]))
                continue;
            ordered[count] = values[i];
            weight[count++] = weights[i];
            total += weights[i];
        }

        if (count == 0)
            return double.NaN;
        ordered = ordered[..count];
        ordered.Sort(weight[..count]);
        var sum = 0.0;
        for (var i = 0; i < count - 1; i++)
        {
            sum += weight[i];
            var over = sum - (total / 2);
            if (Math.Abs(over) <= 1e-12 * total)
                return Middle(ordered[i], ordered[i + 1]);
            if (over > 0)
                return ordered[i];
        }

        return ordered[^1];
    }

    /// <summary>A quantile by linear interpolation between the ordered values (type 7 of Hyndman and Fan 1996).</summary>
    /// <param name="sorted">The values, ascending.</param>
    /// <param name="p">Share of the values below, 0 to 1.</param>
    /// <returns>The quantile, NaN where there is nothing.</returns>
    /// <exception cref="ArgumentOutOfRangeException">A share outside 0 to 1.</exception>
    public static double Quantile(ReadOnlySpan<double> sorted, double p)
    {
        if (!(p is >= 0 and <= 1))
            throw new ArgumentOutOfRangeException(nameof(p), p, "A share from 0 to 1 is needed.");
        if (sorted.IsEmpty)
            return double.NaN;
        var place = p * (sorted.Length - 1);
        var below = Math.Min((int)place, sorted.Length - 1);
        var share = place - below;
        return share == 0 ? sorted[below] : (sorted[below] * (1 - share)) + (sorted[below + 1] * share);
    }

    private static bool Counts(double value, double weight) => double.IsFinite(value) && weight > 0 && double.IsFinite(weight);

    /// <summary>Mean of two without overflow.</summary>
    private static double Middle(double a, double b) => a == b ? a : (0.5 * a) + (0.5 * b);

    /// <summary>Moves NaN values to the end and gives the rest.</summary>
    private static Span<double> Known(Span<double> values)
    {
        var count = 0;
        for (var i = 0; i < values.Length; i++)
        {
            if (double.IsNaN(values[i]))
                continue;
            (values[count], values[i]) = (values[i], values[count]);
            count++;
        }

        return values[..count];
    }
}
