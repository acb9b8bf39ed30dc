namespace SawEdge.Core.Statistics;

/// <summary>
/// Tukey's biweight: the more a value lies out, the less it counts, and beyond <see cref="Reach"/> standard deviations not at all
/// (Beaton and Tukey, Technometrics 16, 1974).
/// </summary>
public static class Biweight
{
    /// <summary>Where values no longer count, in standard deviations: 95 % efficiency at the normal distribution (Holland and Welsch, Commun. Statist. A6, 1977).</summary>
    public const double Reach = 4.685;

    private const int MostSteps = 200;

    /// <summary>The influence of a value: its distance, taken back the further it lies out.</summary>
    /// <param name="distance">Its distance from the location, in standard deviations.</param>
    public static double Influence(double distance) => distance * Weight(distance);

    /// <summary>The slope of <see cref="Influence"/>.</summary>
    /// <param name="distance">The distance from the location, in standard deviations.</param>
    public static double Slope(double distance)
    {
        var share = distance / Reach * (distance / Reach);
        return share < 1 ? (1 - share) * (1 - (5 * share)) : 0;
    }

    /// <summary>How much a value counts, 0 to 1.</summary>
    /// <param name="distance">Its distance from the location, in standard deviations.</param>
    public static double Weight(double distance)
    {
        var share = distance / Reach * (distance / Reach);
        return share < 1 ? (1 - share) * (1 - share) : 0;
    }

    /// <summary>The location nearest to the median at which the influences cancel, found by means weighted anew.</summary>
    /// <param name="values">The values, all finite; their order is kept.</param>
    /// <param name="scale">Standard deviation of a value; not above 0: the mean is given.</param>
    /// <returns>The location, NaN where there is nothing.</returns>
    public static double Location(ReadOnlySpan<double> values, double scale)
    {
        if (values.IsEmpty)
            return double.NaN;
        if (!(scale > 0))
            return Mean(values);
        var location = RobustStatistics.Median(values.ToArray());
        for (var step = 0; step < MostSteps; step++)
        {
            var (sum, total) = (0.0, 0.0);
            foreach (var value in values)
            {
                var distance = (value - location) / scale;
                var weight = Weight(distance);
                (sum, total) = (sum + (weight * distance), total + weight);
            }

            // Where all lie out of reach of their median, as two far apart, nothing speaks for another place.
            if (total == 0)
                return location;
            location += sum / total * scale;
            if (Math.Abs(sum / total) <= 1e-14)
                break;
        }

        return location;
    }

    private static double Mean(ReadOnlySpan<double> values)
    {
        var (mean, count) = (0.0, 0);
        foreach (var value in values)
            mean += (value - mean) / ++count;
        return mean;
    }
}
