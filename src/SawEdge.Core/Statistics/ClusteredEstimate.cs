using MathNet.Numerics.Distributions;

namespace SawEdge.Core.Statistics;

/// <summary>An estimate whose values come in clusters that are alike within.</summary>
/// <param name="Value">The estimate.</param>
/// <param name="StandardError">Its standard error.</param>
/// <param name="Freedom">Degrees of freedom of Student's t for it.</param>
/// <param name="Clusters">Clusters that it stands on.</param>
public readonly record struct ClusteredEstimate(double Value, double StandardError, double Freedom, int Clusters)
{
    /// <summary>The two-sided p-value against a true value of 0.</summary>
    public double P => StandardError > 0 && Freedom > 0 ? 2 * StudentT.CDF(0, 1, Freedom, -Math.Abs(Value / StandardError)) : double.NaN;

    /// <summary>The interval that holds the true value in a share of cases.</summary>
    /// <param name="coverage">The share, above 0 and below 1.</param>
    public (double Low, double High) Interval(double coverage = 0.95)
    {
        if (!(Freedom > 0))
            return (double.NaN, double.NaN);
        var reach = Quantile(0.5 + (coverage / 2), Freedom) * StandardError;
        return (Value - reach, Value + reach);
    }

    // MathNet's inverse is good to about 8 digits; a step of Newton's method makes it exact.
    private static double Quantile(double p, double freedom)
    {
        var t = StudentT.InvCDF(0, 1, freedom, p);
        for (var step = 0; step < 3; step++)
            t -= (StudentT.CDF(0, 1, freedom, t) - p) / StudentT.PDF(0, 1, freedom, t);
        return t;
    }
}
