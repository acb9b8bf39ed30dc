using CsCheck;
using SawEdge.Core.Statistics;

namespace SawEdge.Core.Tests.Statistics;

public class GeneralizedParetoTests
{
    private static readonly Gen<GeneralizedPareto> Any = Gen.Select(
        Gen.Double[-5, 5].Select(Math.Exp),
        Gen.OneOf(Gen.Double[-0.5, 1], Gen.Double[-1e-7, 1e-7], Gen.Const(0.0)),
        (scale, shape) => new GeneralizedPareto(scale, shape));

    /// <summary>Any positive finite number, small and great ones alike.</summary>
    private static readonly Gen<double> Positive = Gen.OneOf(
        Gen.Double[0, 10],
        Gen.Double[-700, 709].Select(Math.Exp),
        Gen.OneOf(Gen.Const(0.0), Gen.Const(double.Epsilon), Gen.Const(1e-310), Gen.Const(1.0), Gen.Const(double.MaxValue)));

    /// <summary>
    /// Coles, An Introduction to Statistical Modeling of Extreme Values (2001), section 4.4, daily rainfall, from memory:
    /// threshold 30 mm, 152 of 17,531 days above it, scale 7.44, shape 0.184; the 100-year level is 106.3 mm (106.20 from the
    /// rounded parameters).
    /// </summary>
    [Fact]
    public void Quantile_OfTheDailyRainfall_IsThePublishedReturnLevel()
    {
        var days = 100 * 365.25;
        var level = 30 + new GeneralizedPareto(7.44, 0.184).Quantile(1 / (days * 152 / 17531));
        Assert.Equal(106.3, level, 0.2);
    }

    [Fact]
    public void Quantile_IsTheInverseOfSurvival() => Gen.Select(Any, Gen.Double[0, 1], Gen.Double[-40, 0]).Sample((distribution, plain, log) =>
    {
        foreach (var share in new[] { plain, Math.Exp(log) })
        {
            var excess = distribution.Quantile(share);

            // Next to a finite end one double is far from the next in terms of the share beyond it.
            if (distribution.Shape * -Math.Log(share) > -18)
                Near.Equal(Math.Log(share), distribution.LogSurvival(excess), 1e-6, $"{distribution} {share}");
            Near.Equal(share, distribution.Survival(excess), 1e-7, $"{distribution} {share}");
        }
    });

    [Fact]
    public void LogSurvival_FallsWithTheExcess() => Gen.Select(Any, Gen.Double[0, 100], Gen.Double[0, 100]).Sample((distribution, a, b) =>
        distribution.LogSurvival(Math.Min(a, b)) >= distribution.LogSurvival(Math.Max(a, b)) && distribution.LogSurvival(a) <= 0);

    [Fact]
    public void LogSurvival_NearShapeZero_PassesOverToTheExponential()
    {
        // To second order in the shape: -z + shape z^2 / 2.
        foreach (var shape in new[] { 1e-6, 1e-9, 1e-12, 1e-17, 1e-300, 0, -1e-17, -1e-12, -1e-9, -1e-6 })
        {
            Near.Equal(-30 + (shape * 450), new GeneralizedPareto(1, shape).LogSurvival(30), 1e-9, $"{shape}");
            Near.Equal(30 + (shape * 450), new GeneralizedPareto(1, shape).Quantile(Math.Exp(-30)), 1e-9, $"{shape}");
        }
    }

    [Fact]
    public void Survival_AtTheEnds()
    {
        var ending = new GeneralizedPareto(2, -0.5);
        Assert.Equal(double.NegativeInfinity, ending.LogSurvival(4));
        Assert.Equal(0, ending.Survival(1e9));
        Assert.Equal(4, ending.Quantile(0), 1e-12);
        Assert.Equal(1, ending.Survival(0));
        Assert.Equal(1, ending.Survival(-3));
        Assert.Equal(double.PositiveInfinity, new GeneralizedPareto(2, 0).Quantile(0));
        Assert.Equal(0, ending.Quantile(1));
        Assert.True(new GeneralizedPareto(1, 0.1).LogSurvival(double.MaxValue) < -7000);
        Assert.Equal(0, new GeneralizedPareto(0, 0.1).Survival(1));
        Assert.Equal(1, new GeneralizedPareto(0, 0.1).Survival(0));
    }

    /// <summary>Samples drawn by the inverse of the distribution function. Standard error of the shape: (1 + shape) / sqrt(n) (Smith 1987).</summary>
    [Theory]
    [InlineData(-0.3)]
    [InlineData(-0.1)]
    [InlineData(0)]
    [InlineData(0.2)]
    [InlineData(0.6)]
    public void Fit_OfALargeSample_FindsItsParameters(double shape)
    {
        const int Count = 20_000;
        var fit = GeneralizedPareto.Fit(Draw(new GeneralizedPareto(3, shape), Count, new Random(41)));
        Assert.Equal(shape, fit.Shape, 4 * (1 + shape) / Math.Sqrt(Count));
        Assert.Equal(3, fit.Scale, 4 * 3 * Math.Sqrt(2 * (1 + shape) / Count));
    }

    [Theory]
    [InlineData(-0.2)]
    [InlineData(0)]
    [InlineData(0.3)]
    public void Fit_OfATruncatedSample_FindsTheWholeTail_WhereTheNaiveFitIsBiased(double shape)
    {
        var whole = new GeneralizedPareto(1.5, shape);
        var truncatedAt = whole.Quantile(0.02);
        var sample = Draw(whole, 20_000, new Random(42), truncatedAt);
        var fit = GeneralizedPareto.Fit(sample, truncatedAt);
        var naive = GeneralizedPareto.Fit(sample);
        Assert.Equal(shape, fit.Shape, 0.08);
        Assert.Equal(1.5, fit.Scale, 0.08);
        Assert.True(naive.Shape < shape - 0.1, $"naive {naive}");

        // What it is for: the level that one in a thousand exceeds.
        Assert.Equal(1, fit.Quantile(1e-3) / whole.Quantile(1e-3), 0.12);
        Assert.True(naive.Quantile(1e-3) / whole.Quantile(1e-3) < 0.85, $"naive {naive}");
    }

    [Fact]
    public void Fit_WithAPrior_LiesBetweenTheLikelihoodAndThePrior() => Gen.Select(Gen.Int[5, 200], Gen.Int[0, 100_000], Gen.Double[-0.3, 0.6], Gen.Double[-0.3, 0.6], Gen.Double[0.01, 2]).Sample((count, seed, shape, priorShape, sd) =>
    {
        var sample = Draw(new GeneralizedPareto(1, shape), count, new Random(seed));
        var free = GeneralizedPareto.Fit(sample).Shape;
        var held = GeneralizedPareto.Fit(sample, shapeMean: priorShape, shapeSd: sd).Shape;
        var tight = GeneralizedPareto.Fit(sample, shapeMean: priorShape, shapeSd: 1e-5).Shape;
        return held >= Math.Min(free, priorShape) - 1e-6 && held <= Math.Max(free, priorShape) + 1e-6 && Math.Abs(tight - priorShape) < 1e-3;
    });

    [Fact]
    public void Fit_IsNeverLessLikelyThanWhatTheSampleWasDrawnFrom() => Gen.Select(Gen.Int[5, 150], Gen.Int[0, 100_000], Gen.Double[-0.45, 0.95], Gen.Double[-3, 3], Gen.Double[0.5, 7], Gen.Double[0.02, 1]).Sample((count, seed, shape, logScale, depth, sd) =>
    {
        var from = new GeneralizedPareto(Math.Exp(logScale), shape);
        foreach (var truncatedAt in new[] { from.Quantile(Math.Exp(-depth)), double.PositiveInfinity })
        {
            foreach (var prior in new[] { sd, double.PositiveInfinity })
            {
                var sample = Draw(from, count, new Random(seed), truncatedAt);
                var fit = GeneralizedPareto.Fit(sample, truncatedAt, 0.1, prior);
                Assert.InRange(fit.Shape, GeneralizedPareto.LeastShape, GeneralizedPareto.GreatestShape);
                Assert.True(Likelihood(fit) >= Likelihood(from) - 1e-7, $"{fit} for {from} truncated at {truncatedAt}, prior {prior}");

                // Nor than its own neighbours: written out anew here, as the fit has it in another form.
                foreach (var (a, b) in new[] { (1.01, 0.0), (0.99, 0.0), (1.0, 0.01), (1.0, -0.01), (1.01, -0.01), (0.99, 0.01) })
                {
                    var neighbour = new GeneralizedPareto(fit.Scale * a, fit.Shape + b);
                    var allowed = neighbour.Shape is >= GeneralizedPareto.LeastShape and <= GeneralizedPareto.GreatestShape
                        && neighbour.Scale <= 10 * truncatedAt;
                    Assert.True(!allowed || Likelihood(fit) >= Likelihood(neighbour) - 1e-7, $"{fit}, but {neighbour} is likelier");
                }

                double Likelihood(GeneralizedPareto d) =>
                    sample.Sum(x => LogDensity(d, x)) - (sample.Length * Math.Log(1 - d.Survival(truncatedAt))) - (Math.Pow(d.Shape - 0.1, 2) / (2 * prior * prior));
            }
        }
    });

    [Fact]
    public void Fit_GrowsWithItsUnit_WhateverTheOrder() => Gen.Select(Gen.Int[5, 100], Gen.Int[0, 100_000], Gen.Double[-200, 200]).Sample((count, seed, logUnit) =>
    {
        var random = new Random(seed);
        var sample = Draw(new GeneralizedPareto(1, 0.15), count, random, 4);
        var unit = Math.Exp(logUnit);
        var fit = GeneralizedPareto.Fit(sample, 4, 0.1, 0.3);
        var other = sample.Select(x => x * unit).ToArray();
        random.Shuffle(other);
        var grown = GeneralizedPareto.Fit(other, 4 * unit, 0.1, 0.3);
        return Math.Abs(grown.Shape - fit.Shape) < 1e-6 && Math.Abs((grown.Scale / unit / fit.Scale) - 1) < 1e-6;
    });

    [Fact]
    public void Fit_OfFewExcesses_IsExponentialOrOfThePriorShape()
    {
        Assert.Equal(new GeneralizedPareto(2, 0), GeneralizedPareto.Fit([1, 2, 3, 2]));
        Assert.Equal(0.2, GeneralizedPareto.Fit([1, 2, 3, 2], shapeMean: 0.2, shapeSd: 0.1).Shape);
        Assert.Equal(0.2, GeneralizedPareto.Fit([1, 2, 3, 2, 5, 7], shapeMean: 0.2, shapeSd: 0).Shape);
        Assert.Equal(double.NaN, GeneralizedPareto.Fit([]).Scale);

        // Cut off where the mean is 0.4 of the cut, an exponential has a scale of 0.4 + (scale's share beyond): x - 1 / (e^(1/x) - 1) = 0.4.
        var truncated = GeneralizedPareto.Fit([0.1, 0.7, 0.4], 1).Scale;
        Assert.Equal(0.4, truncated - (1 / (Math.Exp(1 / truncated) - 1)), 1e-6);
    }

    [Fact]
    public void Fit_OfASampleThatDoesNotThinOut_IsHeldAtTenTruncations()
    {
        double[] sample = [.. Enumerable.Range(1, 50).Select(i => i / 50.0)];
        Assert.Equal(10, GeneralizedPareto.Fit(sample, 1, 0, 0.1).Scale, 1e-3);
    }

    [Fact]
    public void Fit_BadInput_IsRefusedWithItsPlace()
    {
        Assert.Contains("Excess 2 is NaN", Assert.Throws<ArgumentException>(() => GeneralizedPareto.Fit([1, 2, double.NaN])).Message, StringComparison.Ordinal);
        Assert.Contains("Excess 0 is -1", Assert.Throws<ArgumentException>(() => GeneralizedPareto.Fit([-1, 2])).Message, StringComparison.Ordinal);
        Assert.Throws<ArgumentOutOfRangeException>(() => GeneralizedPareto.Fit([1, 2], double.NaN));
        Assert.Throws<ArgumentOutOfRangeException>(() => GeneralizedPareto.Fit([1, 2], shapeSd: -1));
        Assert.Throws<ArgumentOutOfRangeException>(() => GeneralizedPareto.Fit([1, 2], shapeMean: double.NaN));
        Assert.Throws<ArgumentOutOfRangeException>(() => new GeneralizedPareto(1, 0).Quantile(1.5));
    }

    [Fact]
    public void Fit_AnyFiniteInput_NeverThrows_AndStaysWithinBounds() =>
        Gen.Select(Positive.Array[1, 40], Gen.OneOf(Positive, Gen.Const(double.PositiveInfinity)), Gen.Double[-2, 2], Gen.OneOf(Gen.Double[0, 2], Gen.Const(double.PositiveInfinity), Gen.Const(1e-9), Gen.Const(1e-200))).Sample(
            (sample, truncatedAt, shapeMean, shapeSd) =>
            {
                var fit = GeneralizedPareto.Fit(sample, truncatedAt, shapeMean, shapeSd);
                Assert.InRange(fit.Shape, GeneralizedPareto.LeastShape, GeneralizedPareto.GreatestShape);
                Assert.True(double.IsFinite(fit.Scale) && fit.Scale >= 0, $"{fit}");
                Assert.True(fit.Scale > 0 || sample.Max() < 1e-300, $"{fit}");

                // Every excess that was there has to be possible.
                Assert.True(sample.All(x => fit.Survival(x) is >= 0 and <= 1), $"{fit}");
                Assert.Equal(fit, GeneralizedPareto.Fit(sample, truncatedAt, shapeMean, shapeSd));
            },
            iter: 3000);

    /// <summary>ln of the density; next to 0 the shape changes nothing that counts here.</summary>
    private static double LogDensity(GeneralizedPareto d, double x) =>
        (Math.Abs(d.Shape) < 1e-10 ? -x / d.Scale : -(1 + (1 / d.Shape)) * Math.Log(Math.Max(0, 1 + (d.Shape * x / d.Scale)))) - Math.Log(d.Scale);

    private static double[] Draw(GeneralizedPareto distribution, int count, Random random, double below = double.PositiveInfinity)
    {
        // By the inverse of the distribution function, of which the truncated one is a part.
        var least = distribution.Survival(below);
        return [.. Enumerable.Range(0, count).Select(_ => distribution.Quantile(1 - ((1 - least) * random.NextDouble())))];
    }
}
