using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Tests.Cycles;

public sealed class SignalDoubtsTests
{
    private static readonly Signal[] Signals = [Signal.HeadPosition, Signal.MotorLoad, Signal.CycleActive, Signal.Cutting, Signal.BladeRunning, Signal.PartCount];

    private delegate void Change(ref SignalFrame frame, double seconds);

    [Fact]
    public void Doubts_GoodSignals_None()
    {
        var cut = CutOf((ref frame, _) => frame.Set(Signal.BladeSpeed, 70));
        Assert.Equal(SignalDoubts.None, cut.Doubts);
        Assert.Empty(cut.Notes);
        Assert.Equal(100, cut.DepthMm, 0.5);
    }

    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    public void Doubts_LoadThatNeverChanges_IsSaid(bool cuttingBit)
    {
        var cut = CutOf(
            (ref frame, _) =>
            {
                frame.Set(Signal.MotorLoad, 3.2);
                if (!cuttingBit)
                    frame.Mark(Signal.Cutting, SignalQuality.NotRead);
            });
        Assert.Equal(SignalDoubts.LoadConstant, cut.Doubts);
        Assert.Contains(cut.Notes, note => note.Contains("never changed", StringComparison.Ordinal));
    }

    [Fact]
    public void Doubts_TransducerTheWrongWayRound_LoadNegative()
    {
        var cut = CutOf((ref frame, _) => frame.Set(Signal.MotorLoad, -frame.Number(Signal.MotorLoad)));
        Assert.Equal(SignalDoubts.LoadNegative, cut.Doubts);
    }

    [Fact]
    public void Doubts_LoadAtTheEndOfItsRange_LoadSaturated()
    {
        var cut = CutOf((ref frame, _) => frame.Set(Signal.MotorLoad, Math.Min(6.02, frame.Number(Signal.MotorLoad))));
        Assert.Equal(SignalDoubts.LoadSaturated, cut.Doubts);
    }

    [Theory]
    [InlineData(-60, 0.4)]
    [InlineData(8, 0.4)]
    public void Doubts_HeadThatJumps_DepthsAreNotGiven(double jumpMm, double lastsS)
    {
        var cut = CutOf(
            (ref frame, seconds) =>
            {
                if (seconds > 40 && seconds < 40 + lastsS)
                    frame.Set(Signal.HeadPosition, frame.Number(Signal.HeadPosition) + jumpMm);
            });
        Assert.Equal(SignalDoubts.HeadJumps, cut.Doubts);
        Assert.True(double.IsNaN(cut.DepthMm));
        Assert.Equal(ProfileBasis.TimeShare, cut.Profile!.Basis);
        Assert.Contains("the head position jumped further than a saw moves: depths are not given", cut.Notes);
    }

    [Fact]
    public void Doubts_SingleSpikesOfTheHead_AreNone()
    {
        var cut = CutOf(
            (ref frame, seconds) =>
            {
                if (seconds % 7 < 0.1)
                    frame.Set(Signal.HeadPosition, frame.Number(Signal.HeadPosition) - 80);
            });
        Assert.Equal(SignalDoubts.None, cut.Doubts);
    }

    [Fact]
    public void Doubts_HeadRaisedByHandAndTakenDownAgain_AreNone()
    {
        var script = new SawScript().Wait(5).Cycle(true).Wait(3).Move(105, 3000).Cutting(true).Move(100, 60).Feed(60, 60, _ => 4)
            .Move(80, 3000, load: 2).Wait(3, load: 2).Move(60, 3000, load: 2).Feed(0, 60, _ => 4).Move(-4, 60).Cutting(false).Move(300, 6000).Wait(2).Cycle(false).Wait(8);
        var cut = Assert.Single(SawScript.Detect(script.Frames(0.1, Signals, noise: 0.05)));
        Assert.Equal(SignalDoubts.None, cut.Doubts);
    }

    [Theory]
    [InlineData(0.1)]
    [InlineData(1)]
    public void Doubts_HeadWithItsSignReversed_IsNotUsed(double interval)
    {
        var cuts = CutsOf((ref frame, _) => frame.Set(Signal.HeadPosition, -frame.Number(Signal.HeadPosition)), interval, out var contact, out var through);
        var cut = Assert.Single(cuts);
        Assert.Equal(SignalDoubts.HeadBackwards, cut.Doubts);
        Assert.True(double.IsNaN(cut.DepthMm));
        Assert.Equal(ProfileBasis.TimeShare, cut.Profile!.Basis);
        Assert.Equal(CutOutcome.Completed, cut.Outcome);
        Assert.Equal(0, (cut.CutStartedAt!.Value - SawScript.At(contact)).TotalSeconds, interval);
        Assert.Equal(0, (cut.CutEndedAt!.Value - SawScript.At(through)).TotalSeconds, interval);
        Assert.Contains("the head position rose while the saw cut: its sign may be reversed, and it was not used", cut.Notes);
    }

    [Fact]
    public void Doubts_ShallowNotch_IsNoReversedHead()
    {
        var script = new SawScript().Wait(5).Cycle(true).Wait(3).Move(105, 3000).Move(100, 60).Feed(94, 60, _ => 4).Move(300, 4500, load: 5).Wait(2, load: 2).Cycle(false).Wait(8);
        Assert.All(SawScript.Detect(script.Frames(0.1, Signals, noise: 0.05)), cut => Assert.Equal(SignalDoubts.None, cut.Doubts));
    }

    [Fact]
    public void Doubts_BladeSpeedZeroInTheCut_IsLeftOut()
    {
        var cut = CutOf((ref frame, _) => frame.Set(Signal.BladeSpeed, 0));
        Assert.Equal(SignalDoubts.BladeSpeedZero, cut.Doubts);
        Assert.True(double.IsNaN(cut.MeanBladeSpeedMMin));
        Assert.All(cut.Profile!.MeanBladeSpeedMMin, speed => Assert.True(float.IsNaN(speed)));
    }

    private static Cut CutOf(Change change) => Assert.Single(CutsOf(change, 0.1, out _, out _));

    private static IReadOnlyList<Cut> CutsOf(Change change, double interval, out double contact, out double through)
    {
        var script = new SawScript().Wait(5).FullCut(out contact, out through);
        var frames = script.Frames(interval, Signals, noise: 0.05).Select((frame, n) =>
        {
            change(ref frame, n * interval);
            return frame;
        });
        return SawScript.Detect(frames);
    }
}
