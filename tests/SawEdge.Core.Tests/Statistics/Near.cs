namespace SawEdge.Core.Tests.Statistics;

/// <summary>Compares numbers by their relative difference, and makes samples.</summary>
internal static class Near
{
    /// <summary>Fails unless two numbers are equal but for a share of their size (or of 1, where that is less).</summary>
    public static void Equal(double expected, double actual, double share, string what = "") =>
        Assert.True(
            expected.Equals(actual) || Math.Abs(expected - actual) <= share * Math.Max(1, Math.Abs(expected)),
            FormattableString.Invariant($"{what}: expected {expected:R}, got {actual:R}"));

    /// <summary>Standard normal values.</summary>
    public static double[] Normal(Random random, int count) =>
        [.. Enumerable.Range(0, count).Select(_ => MathNet.Numerics.Distributions.Normal.Sample(random, 0, 1))];
}
