using CsCheck;
using MathNet.Numerics.Distributions;
using MathNet.Numerics.Statistics;
using SawEdge.Core.Statistics;
using SawEdge.TestSupport;

namespace SawEdge.Core.Tests.Statistics;

public class RobustStatisticsTests
{
    private static readonly Gen<double[]> Sample = Gen.OneOf(Gen.Double[-1e3, 1e3], Gen.Int[-5, 5].Select(i => (double)i)).Array[1, 60];

    /// <summary>Any finite number, of any size.</summary>
    private static readonly Gen<double> Finite = Gen.OneOf(Gen.Double[-10, 10], Gen.Double.Select(d => double.IsFinite(d) ? d : 0));

    /// <summary>1 / the 0.75 quantile of the standard normal distribution (common knowledge; the quantile is from MathNet.Numerics).</summary>
    [Fact]
    public void MadConstant_IsTheInverseOfTheNormalQuartile() =>
        Assert.Equal(RobustStatistics.MadConstant, 1 / Normal.InvCDF(0, 1, 0.75), 1e-14);

    /// <summary>Certified means of NIST's Statistical Reference Datasets: without an end of influence Huber's estimate is the mean.</summary>
    [Fact]
    public void HuberMean_OfTheNistDatasetsWithoutAnEndOfInfluence_IsTheCertifiedMean()
    {
        foreach (var (name, data, mean) in NistUnivariate.All)
        {
            var ones = Enumerable.Repeat(1.0, data.Length).ToArray();
            Near.Equal(mean, RobustStatistics.HuberMean(data, ones, 1, 1e12), 1e-14, name);
        }
    }

    /// <summary>Against Debian's python3-statsmodels: M-estimate of location with Huber's norm and a fixed scale.</summary>
    [PeerFact(Python.Program, Python.Statsmodels)]
    public async Task HuberMean_IsThatOfStatsmodels()
    {
        var random = new Random(11);
        var data = Near.Normal(random, 200);
        for (var i = 0; i < 30; i++)
            data[i] += 12;
        double[] ks = [0.5, 1.345, 3];
        double[] scales = [0.3, 1, 4];
        var weights = data.Select((_, i) => (double)(1 + (i % 4))).ToArray();
        var lines = await Python.RunAsync(
            """
            from statsmodels.robust.norms import HuberT, estimate_location
            for a in (x, np.repeat(x, w.astype(int))):
                for k in ks:
                    for s in scales:
                        show(estimate_location(a, s, HuberT(t=k), maxiter=100000, tol=1e-14))
            """,
            ("x", data),
            ("w", weights),
            ("ks", ks),
            ("scales", scales));
        var ones = Enumerable.Repeat(1.0, data.Length).ToArray();
        var next = 0;
        foreach (var w in new[] { ones, weights })
        {
            foreach (var k in ks)
            {
                foreach (var scale in scales)
                    Near.Equal(lines[next++][0], RobustStatistics.HuberMean(data, w, scale, k), 1e-11, $"k {k}, scale {scale}");
            }
        }

        Assert.Equal(lines.Length, next);
    }

    /// <summary>Against Debian's python3-scipy and numpy: median absolute deviation, median, quantiles of type 7.</summary>
    [PeerFact(Python.Program, Python.Scipy)]
    public async Task MedianMadAndQuantile_AreThoseOfScipy()
    {
        var random = new Random(12);
        double[][] samples = [[3], [1, 2], [5, 5, 5, 9], Near.Normal(random, 47), Near.Normal(random, 48), [.. Near.Normal(random, 200).Select(v => Math.Round(v, 1))]];
        double[] shares = [0, 0.01, 0.25, 0.5, 0.9, 0.99, 1];
        var script = $"""
            from scipy.stats import median_abs_deviation
            for x in ({string.Join(", ", samples.Select((_, i) => $"x{i}"))}):
                show(np.median(x), median_abs_deviation(x, scale='normal'), np.quantile(x, shares))
            """;
        var lines = await Python.RunAsync(script, [("shares", shares), .. samples.Select((s, i) => ($"x{i}", s))]);
        for (var i = 0; i < samples.Length; i++)
        {
            Near.Equal(lines[i][0], RobustStatistics.Median([.. samples[i]]), 1e-14, "median");
            Near.Equal(lines[i][1], RobustStatistics.Mad([.. samples[i]]), 1e-13, "mad");
            double[] sorted = [.. samples[i].Order()];
            for (var j = 0; j < shares.Length; j++)
                Near.Equal(lines[i][2 + j], RobustStatistics.Quantile(sorted, shares[j]), 1e-14, "quantile");
        }
    }

    [Fact]
    public void Median_IsThatOfMathNet() => Gen.Double[-1e3, 1e3].Array[1, 400].Sample(values =>
        values.Median().Equals(RobustStatistics.Median([.. values])) || Math.Abs(values.Median() - RobustStatistics.Median([.. values])) < 1e-12);

    [Fact]
    public void MedianAndMad_LeaveOutNaN_AndLoseNoValue() => Gen.Select(Sample, Gen.Int[0, 5], Gen.Int[0, 1000]).Sample((values, missing, seed) =>
    {
        double[] with = [.. values, .. Enumerable.Repeat(double.NaN, missing)];
        new Random(seed).Shuffle(with);
        double[] copy = [.. with];
        Assert.Equal(RobustStatistics.Median([.. values]), RobustStatistics.Median(copy));
        Assert.Equal(RobustStatistics.Mad([.. values]), RobustStatistics.Mad(copy));
        Assert.Equal(with.Order(), copy.Order());
    });

    [Fact]
    public void WeightedMedian_WithWholeWeights_IsTheMedianOfTheRepeatedValues() => Gen.Select(Sample, Gen.Int[0, 1000]).Sample((values, seed) =>
    {
        var random = new Random(seed);
        var weights = values.Select(_ => (double)random.Next(0, 4)).ToArray();
        double[] repeated = [.. values.SelectMany((v, i) => Enumerable.Repeat(v, (int)weights[i]))];
        double[] before = [.. values];
        Assert.Equal(RobustStatistics.Median(repeated), RobustStatistics.WeightedMedian(values, weights), 1e-12);
        Assert.Equal(before, values);
    });

    [Fact]
    public void HuberMean_MovesAndGrowsWithTheData_AndLiesWithin() => Gen.Select(Sample, Gen.Double[-100, 100], Gen.Double[0.01, 100], Gen.Double[0.1, 50]).Sample((values, shift, factor, scale) =>
    {
        var ones = Enumerable.Repeat(1.0, values.Length).ToArray();
        var location = RobustStatistics.HuberMean(values, ones, scale);
        var moved = RobustStatistics.HuberMean([.. values.Select(v => (factor * v) + shift)], ones, factor * scale);

        // Where no value lies within reach, every location on a flat stretch solves the equation, and a last digit decides.
        var inside = values.Count(v => Math.Abs(v - location) < 1.3 * scale);
        return location >= values.Min() - 1e-9 && location <= values.Max() + 1e-9
            && (inside < 1 || Math.Abs(moved - ((factor * location) + shift)) < 1e-6 * factor * (scale + 1));
    });

    [Fact]
    public void HuberMean_OfAMeanPulledAway_StaysWithTheMany()
    {
        double[] values = [.. Enumerable.Range(0, 41).Select(i => (i - 20) * 0.05), 1e6, 1e6, double.NaN];
        var ones = Enumerable.Repeat(1.0, values.Length).ToArray();
        Assert.InRange(RobustStatistics.HuberMean(values, ones, 0.6), 0, 0.1);
        Assert.True(RobustStatistics.HuberMean(values, ones, 0.6, 1e12) > 40_000);
    }

    [Fact]
    public void Nothing_GivesNaN()
    {
        Assert.Equal(double.NaN, RobustStatistics.Median([]));
        Assert.Equal(double.NaN, RobustStatistics.Median([double.NaN]));
        Assert.Equal(double.NaN, RobustStatistics.Mad([double.NaN]));
        Assert.Equal(double.NaN, RobustStatistics.Quantile([], 0.5));
        Assert.Equal(double.NaN, RobustStatistics.WeightedMedian([1, double.NaN], [0, 1]));
        Assert.Equal(double.NaN, RobustStatistics.HuberMean([1, 2], [-1, double.NaN], 1));
        Assert.Equal(double.NaN, RobustStatistics.HuberMean([1, 2], [1, 1], double.NaN));
        Assert.Equal(1.5, RobustStatistics.HuberMean([1, 2], [1, 1], 0));
    }

    [Fact]
    public void BadInput_IsRefusedWithWhatWouldBeRight()
    {
        Assert.Contains("2 values, but 1 weights", Assert.Throws<ArgumentException>(() => RobustStatistics.WeightedMedian([1, 2], [1])).Message, StringComparison.Ordinal);
        Assert.Contains("from 0 to 1", Assert.Throws<ArgumentOutOfRangeException>(() => RobustStatistics.Quantile([1], 1.01)).Message, StringComparison.Ordinal);
        Assert.Throws<ArgumentOutOfRangeException>(() => RobustStatistics.Quantile([1], double.NaN));
    }

    [Fact]
    public void AnyFiniteInput_NeverThrows() => Gen.Select(Finite.Array[0, 40], Finite, Finite).Sample(
        (values, scale, k) =>
        {
            double[] weights = [.. values.Reverse()];
            _ = RobustStatistics.HuberMean(values, weights, scale, k);
            _ = RobustStatistics.WeightedMedian(values, weights);
            Assert.False(values.Length > 0 && double.IsNaN(RobustStatistics.Median([.. values])));
            _ = RobustStatistics.Mad([.. values]);
        },
        iter: 2000);
}
