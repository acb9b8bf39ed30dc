using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Tests.Cycles;

public sealed class CycleNowTests
{
    private static readonly Signal[] Everything = [Signal.HeadPosition, Signal.MotorLoad, Signal.CycleActive, Signal.Cutting, Signal.BladeRunning, Signal.PartCount, Signal.Job];
    private static readonly Signal[] HeadAndLoad = [Signal.HeadPosition, Signal.MotorLoad];
    private static readonly Signal[] CuttingAndLoad = [Signal.Cutting, Signal.MotorLoad];

    [Fact]
    public void Now_NoFrame_WaitsForOne()
    {
        var now = new CycleDetector().Now();
        Assert.Equal((CyclePhase.Unknown, CycleWait.Frame, CycleBeginning.None), (now.Phase, now.WaitsFor, now.Beginning));
        Assert.True(double.IsNaN(now.IdleKw) && double.IsNaN(now.TopMm));
        Assert.Null(now.CycleBit);
    }

    [Fact]
    public void Now_BetweenCycles_SaysTheHeightFromWhichADescentCounts()
    {
        var now = At(Whole(out _, out _), HeadAndLoad, 15);
        Assert.Equal((CyclePhase.Idle, CycleWait.Cycle), (now.Phase, now.WaitsFor));
        Assert.Equal(300, now.TopMm, 3);
        Assert.Null(now.CycleBit);
        Assert.Null(now.StartedAt);
    }

    [Fact]
    public void Now_AlongACycleWithAllSignals_NamesContactLeaveAndWhatItWaitsFor()
    {
        var script = Whole(out var contact, out var through);

        var before = At(script, Everything, 24);
        Assert.Equal((CyclePhase.Cycle, CycleBeginning.CycleBit, CycleWait.Contact), (before.Phase, before.Beginning, before.WaitsFor));
        Assert.Equal(20, (before.StartedAt!.Value - SawScript.Epoch).TotalSeconds, 0.15);
        Assert.False(before.HasCut);
        Assert.True(before.CycleBit);
        Assert.False(before.CuttingBit);

        // The head has gone down since the motor started; its inrush, 23 to 24 s, is still no cut.
        var approaching = At(script, Everything, 29);
        Assert.True(approaching.LowestMm < 250);
        Assert.Equal(CycleWait.Contact, approaching.WaitsFor);

        var inside = At(script, Everything, contact + 30);
        Assert.Equal(CycleWait.Leave, inside.WaitsFor);
        Assert.True(inside.HasCut);
        Assert.Equal(contact, (inside.ContactAt!.Value - SawScript.Epoch).TotalSeconds, 0.15);
        Assert.Equal(100, inside.ContactHeadMm, 0.3);
        Assert.Equal(70, inside.LowestMm, 0.3);
        Assert.Equal(2, inside.IdleKw, 0.05);
        Assert.Null(inside.LeftAt);

        var after = At(script, Everything, through + 5);
        Assert.Equal(CycleWait.CycleBitFalls, after.WaitsFor);
        Assert.Equal(through, (after.LeftAt!.Value - SawScript.Epoch).TotalSeconds, 0.15);
        Assert.Equal(0, after.LeaveHeadMm, 0.3);
    }

    [Fact]
    public void Now_BladeThroughAndNoCycleBit_WaitsForTheHead()
    {
        var script = Whole(out _, out var through);
        var now = At(script, HeadAndLoad, through + 3);
        Assert.Equal((CycleWait.HeadUp, CycleBeginning.CuttingOrHead), (now.WaitsFor, now.Beginning));
    }

    [Fact]
    public void Now_CuttingBitAlone_WaitsForItToStayOff()
    {
        var script = Whole(out _, out var through);
        Assert.Equal(CycleWait.CuttingBitOff, At(script, CuttingAndLoad, through + 5).WaitsFor);
    }

    [Fact]
    public void Now_CycleBitFallsInTheStock_WaitsForSomebodyToCarryOn()
    {
        var script = new SawScript().Wait(20).Cycle(true).Wait(6).Move(105, 3000).Cutting(true).Move(100, 60);
        script.Feed(50, 60, _ => 4).Cutting(false).Cycle(false);
        var stopped = script.Now;
        script.Wait(30, load: 2);
        var now = At(script, Everything, stopped + 14);
        Assert.Equal((CyclePhase.Stopped, CycleWait.CarryOn), (now.Phase, now.WaitsFor));
        Assert.Equal(stopped, (now.StoppedAt!.Value - SawScript.Epoch).TotalSeconds, 0.15);
    }

    [Theory]
    [InlineData(0.5)]
    [InlineData(3)]
    [InlineData(12)]
    public void Now_MotorStartsSlowlyWithTheHeadAtItsTop_IsNoCutThatIsOver(double startsFor)
    {
        var script = new SawScript().Wait(20, load: 0).Cycle(true).Wait(2, load: 0).Wait(startsFor, load: 5).Wait(6, load: 1);
        for (var t = 21.0; t < 28 + startsFor; t += 0.5)
        {
            var now = At(script, Everything, t);
            Assert.True(now is { WaitsFor: CycleWait.Contact, HasCut: false, LeftAt: null }, FormattableString.Invariant($"{t} s: {now}"));
        }
    }

    [Fact]
    public void Now_FirstFrameIsInACycle_TheBeginningWasNotSeen()
    {
        var script = new SawScript().Cycle(true).Wait(10);
        Assert.Equal(CycleBeginning.NotSeen, At(script, Everything, 5).Beginning);
    }

    [Fact]
    public void Now_AskedAfterEachFrame_ChangesNothing()
    {
        var script = Whole(out _, out _).FullCut(out _, out _, stock: 60);
        foreach (var signals in new[] { Everything, HeadAndLoad, CuttingAndLoad })
        {
            // Frames of which some bring no load: what is filled in between is where looking could do harm.
            SignalFrame[] frames = [.. script.Frames(0.1, signals, noise: 0.1).Select((frame, i) => WithoutLoad(frame, i % 3 == 1))];
            var silent = SawScript.Detect(frames);

            var asked = new CycleDetector();
            var cuts = new List<Cut>();
            foreach (var frame in frames)
            {
                asked.Push(frame);
                asked.Now();
                while (asked.TryTake(out var cut))
                    cuts.Add(cut);
            }

            asked.Complete();
            while (asked.TryTake(out var cut))
                cuts.Add(cut);
            Assert.Equal(2, cuts.Count);
            Assert.Equal(silent.Select(Told), cuts.Select(Told));
        }
    }

    private static string Told(Cut cut) => $"{cut.StartedAt:O} {cut.CutStartedAt:O} {cut.CutEndedAt:O} {cut.EndedAt:O} {cut.Outcome} {cut.EnergyKj:R} {cut.IdleLoadKw:R} {cut.Frames}";

    private static SignalFrame WithoutLoad(SignalFrame frame, bool without)
    {
        if (without)
            frame.Mark(Signal.MotorLoad, SignalQuality.NotRead);
        return frame;
    }

    private static SawScript Whole(out double contact, out double through) => new SawScript().Wait(20).FullCut(out contact, out through);

    private static CycleNow At(SawScript script, Signal[] signals, double seconds)
    {
        var detector = new CycleDetector();
        foreach (var frame in script.Frames(0.1, signals).TakeWhile(frame => frame.Time <= SawScript.At(seconds)))
            detector.Push(frame);
        return detector.Now();
    }
}
