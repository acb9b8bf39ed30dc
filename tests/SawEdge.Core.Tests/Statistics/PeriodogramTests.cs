using System.Numerics;
using CsCheck;
using MathNet.Numerics.IntegralTransforms;
using SawEdge.Core.Statistics;
using SawEdge.TestSupport;

namespace SawEdge.Core.Tests.Statistics;

public class PeriodogramTests
{
    /// <summary>Against Debian's python3-scipy, lombscargle: uneven, even and far away positions.</summary>
    [PeerFact(Python.Program, Python.Scipy)]
    public async Task Power_IsThatOfScipy()
    {
        var random = new Random(31);
        double[] uneven = [.. Enumerable.Range(0, 300).Select(i => i + random.NextDouble()).Where(_ => random.Next(4) > 0)];
        double[] even = [.. Enumerable.Range(0, 64).Select(i => i * 0.1)];
        double[] frequencies = [0.001, 0.0137, 0.1, 0.25, 0.499, 1.3];
        double[][] positions = [uneven, even, [.. uneven.Select(v => v + 500)], [0, 1]];
        double[][] values = [.. positions.Select(p => Near.Normal(random, p.Length).Select((v, i) => v + 0.7 + (2 * Math.Sin(Math.Tau * 0.0137 * p[i]))).ToArray())];
        var lines = await Python.RunAsync(
            "from scipy.signal import lombscargle\n"
                + string.Join('\n', positions.Select((_, i) => $"show(lombscargle(x{i}, y{i}, 2 * np.pi * f, precenter=False, normalize=False))")),
            [("f", frequencies), .. positions.Select((p, i) => ($"x{i}", p)), .. values.Select((v, i) => ($"y{i}", v))]);
        for (var i = 0; i < positions.Length; i++)
        {
            for (var j = 0; j < frequencies.Length; j++)
                Near.Equal(lines[i][j], Periodogram.Power(positions[i], values[i], frequencies[j]), 1e-9, $"{i} at {frequencies[j]}");
        }
    }

    /// <summary>On an even grid, at the frequencies of the discrete Fourier transform, it is that transform's power over the count (Scargle 1982); the transform is from MathNet.Numerics.</summary>
    [Fact]
    public void Power_OnAnEvenGrid_IsThatOfTheFourierTransform()
    {
        const int Count = 120;
        var values = Near.Normal(new Random(32), Count);
        Complex[] transform = [.. values.Select(v => new Complex(v, 0))];
        Fourier.Forward(transform, FourierOptions.NoScaling);
        double[] positions = [.. Enumerable.Range(0, Count).Select(i => i * 0.25)];
        for (var k = 1; k < Count / 2; k++)
        {
            var power = transform[k].Magnitude * transform[k].Magnitude / Count;
            Near.Equal(power, Periodogram.Power(positions, values, k / (Count * 0.25)), 1e-11, $"{k}");
        }
    }

    /// <summary>The power is half of what a sinusoid, fitted by least squares, takes from the sum of squares (Scargle 1982, appendix C); the fit is from MathNet.Numerics.</summary>
    [Fact]
    public void Power_IsHalfOfWhatAFittedSinusoidTakesAway() => Gen.Select(Gen.Int[5, 60], Gen.Int[0, 100000], Gen.Double[0.02, 0.45]).Sample((count, seed, frequency) =>
    {
        var random = new Random(seed);
        double[] x = [.. Enumerable.Range(0, count).Select(i => i + random.NextDouble())];
        var y = Near.Normal(random, count);
        var design = x.Select(v => new[] { Math.Cos(Math.Tau * frequency * v), Math.Sin(Math.Tau * frequency * v) }).ToArray();
        var fit = MathNet.Numerics.LinearRegression.MultipleRegression.QR(design, y);
        var left = y.Select((v, i) => v - (fit[0] * design[i][0]) - (fit[1] * design[i][1])).Sum(r => r * r);
        Near.Equal(0.5 * (y.Sum(v => v * v) - left), Periodogram.Power(x, y, frequency), 1e-6, "power");
    });

    [Fact]
    public void Power_OfASinusoid_IsAQuarterOfItsSquareTimesTheCount()
    {
        double[] x = [.. Enumerable.Range(0, 1000).Select(i => (double)i)];
        double[] y = [.. x.Select(v => 3 * Math.Sin((Math.Tau * 0.05 * v) + 0.4)), double.NaN];
        Assert.Equal(9 * 1000 / 4.0, Periodogram.Power([.. x, 7], y, 0.05), 1e-6);
        Assert.Equal(0, Periodogram.Power([.. x, 7], y, 0.125), 1e-6);
    }

    [Fact]
    public void Power_OfOneValueOrNone_IsFinite()
    {
        Assert.Equal(0, Periodogram.Power([], [], 1));
        Assert.Equal(0, Periodogram.Power([3], [double.NaN], 1));
        Assert.Equal(2, Periodogram.Power([3], [2], 1), 1e-12);
        Assert.Equal(0.5 * 9 / 3, Periodogram.Power([1, 2, 3], [1, 1, 1], 0), 1e-12);
    }

    [Fact]
    public void Power_BadInput_IsRefused() =>
        Assert.Contains("2 positions, but 1 values", Assert.Throws<ArgumentException>(() => Periodogram.Power([1, 2], [1], 1)).Message, StringComparison.Ordinal);

    [Fact]
    public void Power_AnyFiniteInput_NeverThrows() => Gen.Select(Gen.Double.Array[0, 30], Gen.Double).Sample(
        (values, frequency) => _ = Periodogram.Power([.. values.Reverse()], values, frequency),
        iter: 2000);
}
