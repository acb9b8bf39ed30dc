namespace SawEdge.Core.Statistics;

/// <summary>
/// Logarithm and exponential of small numbers without loss of digits (Kahan; see Higham, Accuracy and Stability of Numerical
/// Algorithms, 2nd ed., section 1.14.1). The runtime's LogP1 and ExpM1 are plain Log(1 + x) and Exp(x) - 1.
/// </summary>
internal static class Accurate
{
    /// <summary>ln(1 + x).</summary>
    public static double LogOnePlus(double x)
    {
        var sum = 1 + x;
        if (sum == 1)
            return x;
        return Math.Abs(x) > 0.5 ? Math.Log(sum) : Math.Log(sum) * x / (sum - 1);
    }

    /// <summary>e^x - 1.</summary>
    public static double ExpLessOne(double x)
    {
        if (Math.Abs(x) > 0.5)
            return Math.Exp(x) - 1;
        var power = Math.Exp(x);
        return power == 1 ? x : (power - 1) * x / Math.Log(power);
    }
}
