using MathNet.Numerics.Distributions;
using SawEdge.Core.Load;
using SawEdge.Core.Tests.Cycles;

namespace SawEdge.Core.Tests.Load;

/// <summary>The load with the blade in air: 0.5 kW and 0.01 kW for every m/min of blade speed.</summary>
public sealed class IdleModelTests
{
    private readonly IdleModel _model = new();
    private readonly Random _random = new(17);
    private DateTimeOffset _now = SawScript.Epoch;

    [Fact]
    public void Expect_BeforeTheFirstCut_SaysNothing()
    {
        Assert.Equal((double.NaN, double.NaN), _model.Expect("A", 60, _now));
        Assert.False(_model.IsScatter(0));
    }

    [Fact]
    public void Learn_TwoSpeeds_PredictsAThird()
    {
        for (var i = 0; i < 120; i++)
            Cut("A", i % 2 == 0 ? 30 : 90);
        foreach (var speed in (double[])[30, 60, 90])
            Assert.Equal(Truth(speed), _model.Expect("A", speed, _now).Mean, 0.03 * Truth(speed));
        Assert.Equal(0.02 * Truth(30), _model.SigmaKw, 0.012);
        Assert.True(_model.IsScatter(_model.SigmaKw));
        Assert.False(_model.IsScatter(3 * _model.SigmaKw));
    }

    [Theory]
    [InlineData(1e9)]
    [InlineData(3e38)]
    [InlineData(-5)]
    public void Learn_SpeedThatNoBladeHas_DoesNotBendTheLine(double absurd)
    {
        for (var i = 0; i < 120; i++)
            Cut("A", i % 2 == 0 ? 30 : 90);
        Cut("A", absurd, Truth(60));
        foreach (var speed in (double[])[30, 90])
            Assert.Equal(Truth(speed), _model.Expect("A", speed, _now).Mean, 0.03 * Truth(speed));
    }

    [Fact]
    public void Learn_KindsWithoutSpeed_EachHasItsOwn()
    {
        for (var i = 0; i < 80; i++)
            Cut(i % 2 == 0 ? "slow" : "fast", double.NaN, i % 2 == 0 ? 0.8 : 1.4);
        Assert.Equal(0.8, _model.Expect("slow", double.NaN, _now).Mean, 0.03);
        Assert.Equal(1.4, _model.Expect("fast", double.NaN, _now).Mean, 0.05);
    }

    [Fact]
    public void Expect_AfterALongPause_IsLessSureUntilWarm()
    {
        for (var i = 0; i < 120; i++)
            Cut("A", i % 2 == 0 ? 30 : 90);
        var warm = _model.Expect("A", 60, _now).Spread;
        _now += TimeSpan.FromHours(14);
        var cold = _model.Expect("A", 60, _now).Spread;
        Assert.True(cold > 1.3 * warm, FormattableString.Invariant($"{cold} after {warm}"));
        for (var i = 0; i < 30; i++)
            Cut("A", i % 2 == 0 ? 30 : 90);
        Assert.True(_model.Expect("A", 60, _now).Spread < 0.5 * (cold + warm));
    }

    [Fact]
    public void Learn_WarmingUp_IsFollowed()
    {
        for (var i = 0; i < 80; i++)
            Cut("A", i % 2 == 0 ? 30 : 90);

        // Cold oil takes a tenth more, and gives it back over 40 cuts.
        _now += TimeSpan.FromHours(14);
        for (var i = 0; i < 40; i++)
            Cut("A", 60, Truth(60) * (1 + (0.1 * (1 - (i / 40.0)))));
        Assert.Equal(Truth(60), _model.Expect("A", 60, _now).Mean, 0.05 * Truth(60));
    }

    [Fact]
    public void Loosen_NewLevel_IsTakenWithinAFewCuts()
    {
        for (var i = 0; i < 120; i++)
            Cut("A", 60);
        var stubborn = IdleModel.Restore(Stored.Read(_model.Save));
        _model.Loosen();
        for (var i = 0; i < 3; i++)
        {
            Cut("A", 60, 2);
            var (mean, spread) = stubborn.Expect("A", 60, _now);
            stubborn.Learn("A", 2, 60, _now, mean, spread);
        }

        Assert.Equal(2, _model.Expect("A", 60, _now).Mean, 0.1);
        Assert.True(stubborn.Expect("A", 60, _now).Mean < 1.6);
    }

    [Fact]
    public void Restore_GoesOnBitForBit()
    {
        for (var i = 0; i < 50; i++)
            Cut($"kind {i % 20}", i % 3 == 0 ? double.NaN : 40 + i);
        var again = IdleModel.Restore(Stored.Read(_model.Save));
        for (var i = 0; i < 30; i++)
        {
            var (speed, kind) = (35.0 + i, $"kind {i}");
            _now += TimeSpan.FromMinutes(i * 5);
            var (one, two) = (_model.Expect(kind, speed, _now), again.Expect(kind, speed, _now));
            Assert.Equal(one, two);
            _model.Learn(kind, 1 + (0.01 * i), speed, _now, one.Mean, one.Spread);
            again.Learn(kind, 1 + (0.01 * i), speed, _now, two.Mean, two.Spread);
        }

        Assert.Equal(Stored.Bytes(_model.Save), Stored.Bytes(again.Save));
    }

    private static double Truth(double speed) => 0.5 + (0.01 * speed);

    private void Cut(string kind, double speed, double? kw = null)
    {
        var (mean, spread) = _model.Expect(kind, speed, _now);
        _model.Learn(kind, (kw ?? Truth(speed > 0 ? speed : 60)) * (1 + Normal.Sample(_random, 0, 0.02)), speed, _now, mean, spread);
        _now += TimeSpan.FromMinutes(3);
    }
}
