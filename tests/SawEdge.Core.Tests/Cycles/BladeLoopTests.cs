using MathNet.Numerics.Distributions;
using SawEdge.Core.Cycles;

namespace SawEdge.Core.Tests.Cycles;

/// <summary>The load at the frequency of the blade's loop, on traces that are made up: a blade of 4 m, idle load 2 kW, 4 kW net.</summary>
public sealed class BladeLoopTests
{
    private const double LengthMm = 4000;
    private const double IdleKw = 2;
    private const double NetKw = 4;

    [Theory]
    [InlineData(0.1, false)]
    [InlineData(0.5, false)]
    [InlineData(0.1, true)]
    [InlineData(0.5, true)]
    public void Measure_LoadThatSwingsOnceALoop_IsFound(double interval, bool speedChanges)
    {
        var loop = Measure(Trace(interval, 120, swing: 0.1, speedChanges: speedChanges))!;
        Assert.True(loop.PowerRatio > 20, FormattableString.Invariant($"ratio {loop.PowerRatio}"));
        Assert.Equal(0.1, loop.Swing, 0.015);
        Assert.InRange(loop.Harmonics, 1, 5);
        Assert.InRange(loop.Loops, 25, 31);
    }

    [Theory]
    [InlineData(0.1)]
    [InlineData(0.5)]
    public void Measure_NoiseAlone_FollowsF(double interval)
    {
        var (ratios, mean, below) = (new List<double>(), 0.0, new int[3]);
        double[] levels = [0.5, 0.1, 0.02];
        for (var seed = 0; seed < 300; seed++)
        {
            var loop = Measure(Trace(interval, 50, swing: 0, seed: seed))!;
            ratios.Add(loop.PowerRatio);
            mean = loop.Neighbours / (loop.Neighbours - 1.0);
            var p = 1 - FisherSnedecor.CDF(2 * loop.Harmonics, 2 * loop.Neighbours, loop.PowerRatio);
            for (var i = 0; i < levels.Length; i++)
                below[i] += p < levels[i] ? 1 : 0;
        }

        // F with n degrees of freedom below has the mean n / (n - 2).
        Assert.Equal(mean, ratios.Average(), 0.1);

        // Four standard deviations of a binomial count; the far tail may be a little too seldom, for the frequencies are not quite independent.
        Assert.InRange(below[0], 150 - 40, 150 + 40);
        Assert.InRange(below[1], 30 - 21, 30 + 21);
        Assert.InRange(below[2], 0, 6 + 10);
    }

    [Theory]
    [InlineData("trend")]
    [InlineData("walls")]
    [InlineData("steps")]
    public void Measure_TrendsAndJumps_AreNoLoop(string shape)
    {
        Func<double, double> net = shape switch
        {
            "trend" => share => 0.5 + share,
            "walls" => share => share is < 0.08 or > 0.92 ? 3 : 0.8,
            _ => share => 1 + (0.5 * Math.Floor(4 * share)),
        };
        for (var seed = 0; seed < 30; seed++)
        {
            var loop = Measure(Trace(0.1, 120, swing: 0, seed: seed, net: net))!;
            var p = 1 - FisherSnedecor.CDF(2 * loop.Harmonics, 2 * loop.Neighbours, loop.PowerRatio);
            Assert.True(p > 1e-4, FormattableString.Invariant($"{shape} {seed}: ratio {loop.PowerRatio}, p {p}"));
        }
    }

    [Fact]
    public void Measure_SwingOfAnotherPeriod_IsNoLoop() =>
        Assert.True(Measure(Trace(0.1, 120, swing: 0.1, turns: 0.62))!.PowerRatio < 3);

    [Fact]
    public void Measure_OneSpike_IsNoLoop()
    {
        for (var seed = 0; seed < 10; seed++)
        {
            var samples = Trace(0.1, 120, swing: 0, seed: seed);
            var without = Measure(samples)!.PowerRatio;
            samples[500].Load = 60;
            Assert.InRange(Measure(samples)!.PowerRatio / without, 0.4, 1.6);
        }
    }

    [Fact]
    public void Measure_FewSamplesALoop_SaysNothing() => Assert.Null(Measure(Trace(1.2, 300, swing: 0.1)));

    [Fact]
    public void Measure_FewLoops_SaysNothing() => Assert.Null(Measure(Trace(0.1, 12, swing: 0.1)));

    [Fact]
    public void Measure_NoSpeedNoLengthNoLoad_SaysNothing()
    {
        var samples = Trace(0.1, 120, swing: 0.1);
        Assert.Null(BladeLoop.Measure(samples, Facts(samples), double.NaN));
        Assert.Null(BladeLoop.Measure(samples, Facts(samples), 0));
        Assert.Null(BladeLoop.Measure(samples, Facts(samples) with { UsedLoad = false }, LengthMm));
        Assert.Null(BladeLoop.Measure(samples, Facts(samples) with { IdleKw = double.NaN }, LengthMm));
        foreach (ref var sample in samples.AsSpan())
            sample.Speed = float.NaN;
        Assert.Null(Measure(samples));
        foreach (ref var sample in samples.AsSpan())
            sample.Speed = 0;
        Assert.Null(Measure(samples));
    }

    [Fact]
    public void Measure_LongCut_IsJoinedAndStillFound()
    {
        var loop = Measure(Trace(0.1, 1800, swing: 0.05))!;
        Assert.True(loop.PowerRatio > 20);
        Assert.Equal(0.05, loop.Swing, 0.0075);
    }

    private static BladeLoopMeasure? Measure(Sample[] samples) => BladeLoop.Measure(samples, Facts(samples), LengthMm);

    private static CutFacts Facts(Sample[] samples) => new() { HasCut = true, UsedLoad = true, First = 0, Last = samples.Length - 1, IdleKw = IdleKw };

    // Turns: how often the load swings in a turn of the blade.
    private static Sample[] Trace(double interval, double seconds, double swing, bool speedChanges = false, int seed = 1, double turns = 1, Func<double, double>? net = null)
    {
        var random = new Random(seed);
        var samples = new Sample[(int)(seconds / interval)];
        var position = 0.0;
        for (var i = 0; i < samples.Length; i++)
        {
            var share = (double)i / samples.Length;
            var speed = speedChanges ? 60 + (15 * Math.Sin(Math.Tau * share)) : 60;
            var kw = NetKw * (net?.Invoke(share) ?? 1) * (1 + (swing * Math.Cos(Math.Tau * turns * position)) + Normal.Sample(random, 0, 0.03));
            samples[i] = new Sample { Ticks = (long)(i * interval * TimeSpan.TicksPerSecond), Head = float.NaN, Load = (float)(IdleKw + kw), Speed = (float)speed };
            position += speed * 1000 / 60 * interval / LengthMm;
        }

        return samples;
    }
}
