using CsCheck;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Tests.Signals;

public sealed class DerivedFlagTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    private static readonly SignalCondition Runs = new(Signal.BladeRunning, ConditionKind.IsSet);
    private static readonly SignalCondition Loaded = new(Signal.MotorLoad, ConditionKind.Above, 1.2);

    [Theory]
    [InlineData(true, 1.3, true)]
    [InlineData(true, 1.2, false)]
    [InlineData(false, 1.3, false)]
    [InlineData(false, null, false)]
    [InlineData(null, 1.0, false)]
    [InlineData(null, 1.3, null)]
    [InlineData(true, null, null)]
    public void Apply_AllConditions_DecideOrLeaveItOpen(bool? runs, double? load, bool? expected)
    {
        var frame = Frame(0, runs, load);
        new DerivedFlag(new DerivedFlagRule(Signal.Cutting, [Runs, Loaded])).Apply(ref frame);
        Assert.Equal(expected, frame.Flag(Signal.Cutting));
    }

    [Theory]
    [InlineData(SignalQuality.SourceFault)]
    [InlineData(SignalQuality.OutOfRange)]
    [InlineData(SignalQuality.NotRead)]
    public void Apply_ASignalThatDecidesIsBad_TakesItsQuality(SignalQuality quality)
    {
        var frame = Frame(0, true, 2);
        frame.Mark(Signal.MotorLoad, quality);
        new DerivedFlag(new DerivedFlagRule(Signal.Cutting, [Runs, Loaded])).Apply(ref frame);
        Assert.Equal(quality, frame.QualityOf(Signal.Cutting));
    }

    [Fact]
    public void Apply_AFrameThatHasTheFlag_LeavesIt()
    {
        var frame = Frame(0, true, 2);
        frame.Set(Signal.Cutting, false);
        new DerivedFlag(new DerivedFlagRule(Signal.Cutting, [Runs, Loaded])).Apply(ref frame);
        Assert.False(frame.Flag(Signal.Cutting));
    }

    [Fact]
    public void Apply_WithDelays_FollowsTheTimersOfTheFrames()
    {
        var flag = new DerivedFlag(new DerivedFlagRule(Signal.Cutting, [Loaded], TimeSpan.FromSeconds(1), TimeSpan.FromSeconds(2)));
        (double At, double Load, bool Expected)[] steps =
        [
            (0, 2, false), (0.5, 2, false), (1, 2, true), (1.5, 0, true), (2, 2, true), (2.5, 0, true), (4.4, 0, true), (4.5, 0, false), (5, 2, false), (5.5, 0, false), (6, 2, false), (7, 2, true),
        ];
        foreach (var (at, load, expected) in steps)
        {
            var frame = Frame(at, null, load);
            flag.Apply(ref frame);
            Assert.True(expected == frame.Flag(Signal.Cutting), $"at {at} s");
        }
    }

    [Fact]
    public void Apply_WithoutDelays_IsTheConditionItself() => Gen.Double[0, 3].Array[1, 40].Sample(loads =>
    {
        var flag = new DerivedFlag(new DerivedFlagRule(Signal.Cutting, [Loaded]));
        for (var i = 0; i < loads.Length; i++)
        {
            var frame = Frame(i, null, loads[i]);
            flag.Apply(ref frame);
            Assert.Equal(loads[i] > 1.2, frame.Flag(Signal.Cutting));
        }
    });

    [Theory]
    [InlineData(ConditionKind.Is, "automatic", true)]
    [InlineData(ConditionKind.IsNot, "automatic", false)]
    [InlineData(ConditionKind.Is, "manual", false)]
    public void Holds_AText_IsCompared(ConditionKind kind, string text, bool expected)
    {
        var frame = new SignalFrame(Start);
        frame.Set(Signal.Mode, "automatic");
        Assert.Equal(expected, new SignalCondition(Signal.Mode, kind, 0, text).Holds(in frame));
    }

    [Fact]
    public void DerivedFlag_ThatCannotBe_IsRefused()
    {
        Assert.Throws<ArgumentException>(() => new DerivedFlag(new DerivedFlagRule(Signal.MotorLoad, [Runs])));
        Assert.Throws<ArgumentException>(() => new DerivedFlag(new DerivedFlagRule(Signal.Cutting, [])));
        Assert.Throws<ArgumentException>(() => new DerivedFlag(new DerivedFlagRule(Signal.BladeRunning, [Runs])));
    }

    private static SignalFrame Frame(double seconds, bool? runs, double? load)
    {
        var frame = new SignalFrame(Start.AddSeconds(seconds));
        if (runs is { } running)
            frame.Set(Signal.BladeRunning, running);
        if (load is { } kilowatts)
            frame.Set(Signal.MotorLoad, kilowatts);
        return frame;
    }
}
