using SawEdge.Simulator.Randomness;

namespace SawEdge.Simulator.Tests.Randomness;

public sealed class Xoshiro256Tests
{
    /// <summary>
    /// The reference implementation's first outputs from the state 1, 2, 3, 4, as the test of the rand_xoshiro crate holds
    /// them (generated with xoshiro256starstar.c of Blackman and Vigna).
    /// </summary>
    [Fact]
    public void Next_StateOneTwoThreeFour_GivesTheReferenceOutputs()
    {
        var generator = new Xoshiro256(1, 2, 3, 4);
        ulong[] expected =
        [
            11520, 0, 1509978240, 1215971899390074240, 1216172134540287360,
            607988272756665600, 16172922978634559625, 8476171486693032832, 10595114339597558777, 2904607092377533576,
        ];
        Assert.Equal(expected, expected.Select(_ => generator.Next()));
    }

    /// <summary>The outputs for seed 1234567 as Rosetta Code lists them ("Pseudo-random numbers/Splitmix64").</summary>
    [Fact]
    public void SplitMix_Seed1234567_GivesThePublishedOutputs()
    {
        ulong state = 1234567;
        ulong[] expected = [6457827717110365317, 3203168211198807973, 9817491932198370423, 4593380528125082431, 16408922859458223821];
        Assert.Equal(expected, expected.Select(_ => SplitMix64.Next(ref state)).ToArray());
        Assert.Equal(expected[0], SplitMix64.Mix(1234567));
    }

    [Fact]
    public void Constructor_AllZeroState_IsRefused() => Assert.Throws<ArgumentException>(() => new Xoshiro256(0, 0, 0, 0));

    [Fact]
    public void Streams_OfOneSeed_AreDifferent()
    {
        var first = new Xoshiro256(5, 1, 1).Next();
        Assert.NotEqual(first, new Xoshiro256(5, 1, 2).Next());
        Assert.NotEqual(first, new Xoshiro256(5, 2, 1).Next());
        Assert.NotEqual(first, new Xoshiro256(6, 1, 1).Next());
        Assert.Equal(first, new Xoshiro256(5, 1, 1).Next());
    }

    [Fact]
    public void Normal_ManyDraws_HasTheMomentsAndTailsOfANormalDistribution()
    {
        var generator = new Xoshiro256(99);
        var draws = Enumerable.Range(0, 200_000).Select(_ => generator.Normal()).ToArray();
        // Four standard errors each; the share beyond 1.959964 is 5 % by the tables of the normal distribution.
        Assert.Equal(0, draws.Average(), 4 / Math.Sqrt(draws.Length));
        Assert.Equal(1, draws.Average(x => x * x), 4 * Math.Sqrt(2.0 / draws.Length));
        Assert.Equal(0.05, draws.Count(x => Math.Abs(x) > 1.959964) / (double)draws.Length, 4 * Math.Sqrt(0.05 * 0.95 / draws.Length));
    }

    [Fact]
    public void NoiseField_WhiteAndDrift_HaveUnitVariance()
    {
        var field = new NoiseField(3, 1);
        var white = Enumerable.Range(0, 50_000).Select(i => field.White(i * TimeSpan.TicksPerMillisecond)).ToArray();
        Assert.Equal(1, white.Average(x => x * x), 0.03);
        // Between the grid points the drift must not shrink: looked at in the middle of its cells.
        var drift = Enumerable.Range(0, 50_000).Select(i => field.Drift((i * 2L * TimeSpan.TicksPerSecond) + (TimeSpan.TicksPerSecond / 2), TimeSpan.TicksPerSecond)).ToArray();
        Assert.Equal(1, drift.Average(x => x * x), 0.03);
    }

    [Fact]
    public void NoiseField_Drift_IsSmooth()
    {
        var field = new NoiseField(3, 1);
        var values = Enumerable.Range(0, 10_000).Select(i => field.Drift(i * TimeSpan.TicksPerMillisecond * 10, TimeSpan.TicksPerSecond)).ToArray();
        Assert.All(values.Zip(values.Skip(1)), pair => Assert.InRange(Math.Abs(pair.Second - pair.First), 0, 0.2));
    }
}
