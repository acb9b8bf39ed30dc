using SawEdge.Core.Statistics;

namespace SawEdge.Core.Comparison;

/// <summary>
/// Makes cuts fit for plain means: each value is replaced by what it contributes to a robust location (a pseudo-value: the location and the value's influence, as
/// in Huber, Ann. Statist. 1, 1973). Their mean is that location, their scatter gives its standard error, and a few odd cuts cannot sway either.
/// </summary>
internal static class TamedCuts
{
    // Below this the values are no bulk with a few strays, and the influence says nothing. Normal values come to 0.76.
    private const double LeastSlope = 0.5;

    /// <summary>Standard deviation of a value of the bulk, about the middle of each part.</summary>
    /// <param name="parts">Values of each part.</param>
    public static double Scale(params ReadOnlySpan<List<double>> parts)
    {
        var count = 0;
        foreach (var part in parts)
            count += part.Count;
        var residuals = new double[count];
        var at = 0;
        foreach (var part in parts)
        {
            var middle = RobustStatistics.Median(part.ToArray());
            foreach (var value in part)
                residuals[at++] = value - middle;
        }

        return RobustStatistics.Mad(residuals);
    }

    /// <summary>Mean slope of the influence of parts at their own locations: 1 where nothing lies out at all.</summary>
    /// <param name="scale">Standard deviation of a value.</param>
    /// <param name="parts">Values of each part.</param>
    public static double MeanSlope(double scale, params ReadOnlySpan<List<double>> parts)
    {
        var (sum, count) = (0.0, 0);
        foreach (var part in parts)
        {
            var location = Biweight.Location(System.Runtime.InteropServices.CollectionsMarshal.AsSpan(part), scale);
            foreach (var value in part)
                sum += Biweight.Slope((value - location) / scale);
            count += part.Count;
        }

        return sum / count;
    }

    /// <summary>The pseudo-values.</summary>
    /// <param name="values">The values.</param>
    /// <param name="scale">Standard deviation of a value of the bulk.</param>
    /// <param name="meanSlope">Mean slope of the influence.</param>
    /// <returns>As many pseudo-values; the values themselves where they have no bulk.</returns>
    public static double[] Tame(List<double> values, double scale, double meanSlope)
    {
        if (!(scale > 0 && meanSlope >= LeastSlope))
            return [.. values];
        var location = Biweight.Location(System.Runtime.InteropServices.CollectionsMarshal.AsSpan(values), scale);
        return [.. values.Select(value => location + (scale / meanSlope * Biweight.Influence((value - location) / scale)))];
    }
}
