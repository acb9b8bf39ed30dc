using CsCheck;
using SawEdge.Core.Statistics;
using SawEdge.TestSupport;

namespace SawEdge.Core.Tests.Statistics;

public class TheilSenTests
{
    /// <summary>
    /// Sen, Estimates of the Regression Coefficient Based on Kendall's Tau, JASA 63 (1968), the worked example, as quoted in the
    /// tests of scipy: slope 4, interval 3.71 to 4.38 at 93 %; the intercept is that of the two medians.
    /// </summary>
    [Fact]
    public void Fit_OfSensExample_IsAsPublished()
    {
        var fit = TheilSen.Fit([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78], 0.93);
        Assert.Equal(4, fit.Slope, 1e-12);
        Assert.Equal(4, fit.Intercept, 1e-12);
        Assert.Equal(3.71, fit.Low, 0.005);
        Assert.Equal(4.38, fit.High, 0.005);
    }

    /// <summary>From the tests of scipy; the last is the same with a missing value.</summary>
    [Fact]
    public void Fit_OfFewPoints_IsThatOfScipysTests()
    {
        var fit = TheilSen.Fit([0, 1, 2], [0, 1, 1]);
        Assert.Equal((0.5, 0.5), (fit.Slope, fit.Intercept));
        var missing = TheilSen.Fit([0, 1, 2, 3], [0, 1, double.NaN, 1]);
        Assert.Equal(1.0 / 3, missing.Slope, 1e-15);
        Assert.Equal(2.0 / 3, missing.Intercept, 1e-15);
    }

    /// <summary>Against Debian's python3-scipy, theilslopes: many sizes, with and without ties in x and y.</summary>
    [PeerFact(Python.Program, Python.Scipy)]
    public async Task Fit_IsThatOfScipy()
    {
        var random = new Random(21);
        var cases = new List<(double[] X, double[] Y, double Confidence)>();
        foreach (var count in (int[])[2, 3, 5, 12, 60, 200])
        {
            var noise = Near.Normal(random, count);
            double[] even = [.. Enumerable.Range(0, count).Select(i => (double)i)];
            double[] uneven = [.. even.Select(_ => 100 * random.NextDouble())];
            double[] tied = [.. even.Select(i => Math.Floor(i / 3))];
            cases.Add((even, [.. even.Select((v, i) => (0.1 * v) + noise[i])], 0.95));
            cases.Add((uneven, [.. uneven.Select((v, i) => 5 - (0.02 * v) + noise[i])], 0.8));
            if (count > 3)
                cases.Add((tied, [.. tied.Select((v, i) => Math.Round(v + noise[i]))], 0.99));

            // Ties in y alone, and so many of them that the interval changes.
            cases.Add((uneven, [.. uneven.Select((v, i) => Math.Round(0.3 * noise[i]) + (v > 80 ? 0.01 * v : 0))], 0.9));
        }

        var script = string.Join('\n', cases.Select((c, i) => FormattableString.Invariant($"show(*theilslopes(y{i}, x{i}, alpha={c.Confidence}, method='separate'))")));
        var lines = await Python.RunAsync(
            "from scipy.stats import theilslopes\n" + script,
            [.. cases.Select((c, i) => ($"x{i}", c.X)), .. cases.Select((c, i) => ($"y{i}", c.Y))]);
        Assert.Equal(cases.Count, lines.Length);
        for (var i = 0; i < cases.Count; i++)
        {
            var fit = TheilSen.Fit(cases[i].X, cases[i].Y, cases[i].Confidence);
            Near.Equal(lines[i][0], fit.Slope, 1e-13, $"slope {i}");
            Near.Equal(lines[i][1], fit.Intercept, 1e-12, $"intercept {i}");
            Near.Equal(lines[i][2], fit.Low, 1e-13, $"low {i}");
            Near.Equal(lines[i][3], fit.High, 1e-13, $"high {i}");
        }
    }

    [Fact]
    public void Fit_MovesAndTurnsWithTheData() => Gen.Select(Gen.Int[2, 40], Gen.Int[0, 100000], Gen.Double[-5, 5], Gen.Double[-50, 50], Gen.Double[0.1, 10]).Sample((count, seed, tilt, shift, factor) =>
    {
        var random = new Random(seed);
        double[] x = [.. Enumerable.Range(0, count).Select(i => i + random.NextDouble())];
        var y = Near.Normal(random, count);
        var fit = TheilSen.Fit(x, y);
        var other = TheilSen.Fit(x, [.. y.Select((v, i) => (factor * v) + shift + (tilt * x[i]))]);
        double[] order = [.. Enumerable.Range(0, count).Select(i => (double)i)];
        random.Shuffle(order);
        var shuffled = TheilSen.Fit([.. order.Select(i => x[(int)i])], [.. order.Select(i => y[(int)i])]);
        Near.Equal((factor * fit.Slope) + tilt, other.Slope, 1e-9, "slope");
        Near.Equal((factor * fit.Low) + tilt, other.Low, 1e-9, "low");
        Near.Equal((factor * fit.High) + tilt, other.High, 1e-9, "high");
        Near.Equal(fit.Slope, shuffled.Slope, 1e-12, "order");
        Assert.True(fit.Low <= fit.Slope && fit.Slope <= fit.High);
    });

    /// <summary>Share of 95 % intervals that hold the true slope: 0.95 but for the steps of small samples and chance.</summary>
    [Fact]
    public void Fit_Interval_HoldsTheTrueSlopeAsOftenAsStated()
    {
        var random = new Random(22);
        double[] x = [.. Enumerable.Range(0, 30).Select(i => (double)i)];
        var held = Enumerable.Range(0, 2000).Count(_ =>
        {
            var noise = Near.Normal(random, x.Length);
            var fit = TheilSen.Fit(x, [.. x.Select((v, i) => (0.3 * v) + noise[i])]);
            return fit.Low <= 0.3 && fit.High >= 0.3;
        });
        Assert.InRange(held / 2000.0, 0.935, 0.97);
    }

    [Fact]
    public void Fit_WithoutTwoPositions_IsNaN()
    {
        Assert.Equal(double.NaN, TheilSen.Fit([], []).Slope);
        Assert.Equal(double.NaN, TheilSen.Fit([1], [2]).Slope);
        Assert.Equal(double.NaN, TheilSen.Fit([1, 1, 1], [2, 3, 4]).Slope);
    }

    [Fact]
    public void Fit_BadInput_IsRefused()
    {
        Assert.Contains("2 positions, but 1 values", Assert.Throws<ArgumentException>(() => TheilSen.Fit([1, 2], [1])).Message, StringComparison.Ordinal);
        Assert.Throws<ArgumentOutOfRangeException>(() => TheilSen.Fit([1, 2], [1, 2], 1));
    }

    [Fact]
    public void Fit_AnyInput_NeverThrows() => Gen.Select(Gen.Double.Array[0, 30], Gen.Int[0, 3]).Sample(
        (values, ties) => _ = TheilSen.Fit([.. values.Select((v, i) => ties > 0 ? i / ties : v)], values),
        iter: 2000);
}
