using SawEdge.Core.Cycles;
using SawEdge.Core.Sections;
using SawEdge.Core.Signals;
using SawEdge.Simulator.Faults;
using SawEdge.Simulator.Saws;
using static SawEdge.Simulator.Tests.Saws.VirtualSawTests;

namespace SawEdge.Simulator.Tests.Faults;

/// <summary>Each fault must be visible in the signals in the way it is in a shop, and named in the truth.</summary>
public sealed class FaultTests
{
    private static readonly FaultTrigger Third = FaultTrigger.AtCycle(3);

    private static (SawTruth Healthy, SawTruth Faulty, VirtualSaw Saw) Compare(Fault fault, Section? section = null, VirtualMaterial? material = null)
    {
        var healthy = Make.AtCycle(Make.Quiet(section, material), 3).Truth;
        var saw = Make.AtCycle(Make.Quiet(section, material, fault), 3);
        Assert.Equal([fault.Name], saw.Truth.Faults);
        Assert.Equal(healthy.Started, saw.Truth.Started);
        return (healthy, saw.Truth, saw);
    }

    private static double Idle(VirtualSaw saw) => saw.Machine.IdleKw(70);

    [Fact]
    public void Fault_AtOneCycle_LeavesTheOthersAlone()
    {
        var healthy = Cycles(new VirtualSaw(Make.Quiet()), 5);
        var faulty = Cycles(new VirtualSaw(Make.Quiet(faults: new StarvedFeed(Third, 0.3))), 5);
        for (var i = 0; i < 5; i++)
            Assert.Equal(i == 2, Math.Abs(healthy[i].CutTimeS!.Value - faulty[i].CutTimeS!.Value) > 1e-6);
        Assert.Empty(faulty[3].Faults);
    }

    [Fact]
    public void Fault_AtATime_HoldsFromTheNextCycleOn()
    {
        var from = Make.AtCycle(3).Truth.Started.AddSeconds(1);
        var truths = Cycles(new VirtualSaw(Make.Quiet(faults: new GuideDrag(FaultTrigger.AtTime(from, 2), 0.5))), 7);
        Assert.Equal([false, false, false, true, true, false, false], truths.Select(truth => truth.Faults.Count > 0));
    }

    [Fact]
    public void SwitchOn_AndOff_TakeEffectWithTheNextTurn()
    {
        var saw = Make.AtCycle(2);
        var fault = new StarvedFeed(FaultTrigger.Onward(1), 0.3);
        saw.SwitchOn(fault);
        Assert.Empty(saw.Truth.Faults);
        saw.NextTurn();
        Assert.Equal(["starved_feed"], saw.Truth.Faults);
        Assert.True(saw.SwitchOff(fault));
        Assert.False(saw.SwitchOff(fault));
        saw.NextTurn();
        Assert.Empty(saw.Truth.Faults);
    }

    [Fact]
    public void Fault_WithAFigureThatCannotBe_IsRefusedByName()
    {
        Fault[] wrong =
        [
            new Stall(Third, 1.5), new StarvedFeed(Third, 1), new StrippedTeeth(Third, 0.6, 0.5), new FeedHold(Third, 0.5, -1),
            new HardSpot(Third, -0.1, 4, 0.5), new DullBlade(Third, double.NaN), new GuideDrag(Third, -1), new PartialCut(Third, 2),
            new EmergencyStop(Third, 0.5, -1), new BladeBreak(Third, 1.1), new StuckSignal(Third, Signal.MotorLoad, 2), new ControllerRestart(Third, -3),
            new WrongGrade(Third, 0), new LooseStock(Third, 0.5, 10, 0.3, 0.5),
        ];
        var message = Assert.Throws<ArgumentException>(() => new VirtualSaw(Make.Quiet(faults: wrong))).Message;
        Assert.All(wrong, fault => Assert.Contains(fault.Name + ":", message, StringComparison.Ordinal));
        Assert.Throws<ArgumentException>(() => Make.AtCycle(1).SwitchOn(wrong[0]));
    }

    [Fact]
    public void DullBlade_RaisesEnergyOverItsCycles_AndSlowsTheFeed()
    {
        var truths = Cycles(new VirtualSaw(Make.Quiet(material: Make.FlatForce, faults: new DullBlade(FaultTrigger.AtCycle(3, 6), 0.4, 4))), 10);
        var energy = truths.Select(truth => truth.EnergyKj / truths[1].EnergyKj).ToArray();
        double[] expected = [1, 1, 1.1, 1.2, 1.3, 1.4, 1.4, 1.4, 1, 1];
        for (var i = 0; i < expected.Length; i++)
            Assert.Equal(expected[i], energy[i], 1e-6);
        Assert.True(truths[6].CutTimeS > truths[1].CutTimeS * 1.05);
    }

    [Fact]
    public void HardSpot_RaisesLoadAtItsDepthOnly()
    {
        var section = SectionFactory.Rectangle(80, 50);
        var (healthy, faulty, saw) = Compare(new HardSpot(Third, 0.6, 4, 0.8), section);
        Assert.Equal(AtDepth(Make.AtCycle(Make.Quiet(section), 3), 20), AtDepth(saw, 20), 1e-6);
        var plain = AtDepth(saw, 20) - Idle(saw);
        // 80 % more force at a rate lower by 1.8^-0.25, and a feed per tooth smaller by as much.
        var pace = Math.Pow(1.8, -0.25);
        Assert.Equal(plain * 1.8 * Math.Pow(pace, 1 - 0.25), AtDepth(saw, 30) - Idle(saw), 1e-4);
        Assert.True(faulty.CutTimeS > healthy.CutTimeS);
    }

    [Fact]
    public void StrippedTeeth_MakesTheLoadSwingOncePerBladeLoop()
    {
        var (_, truth, saw) = Compare(new StrippedTeeth(Third, 0.1, 0.5), SectionFactory.Rectangle(150, 100));
        var net = Enumerable.Range(0, 6000)
            .Select(i => Number(saw, truth.Contact!.Value.AddSeconds(1).AddMilliseconds(10 * i), Signal.MotorLoad) - Idle(saw))
            .ToArray();
        var mean = net.Average();
        Assert.Equal(0.5, net.Min() / mean, 0.02);
        Assert.Equal(1.5, net.Max() / mean, 0.02);
        // 70 m/min on a loop of 4670 mm: one swing in 4.0029 s; half a loop off nothing of it is left, a full loop on they agree.
        Assert.InRange(Correlation(net, 400), 0.95, 1);
        Assert.InRange(Correlation(net, 200), -1, 0.05);
    }

    [Fact]
    public void StarvedFeed_TakesLongerWithLessLoad()
    {
        var (healthy, faulty, saw) = Compare(new StarvedFeed(Third, 0.4), SectionFactory.Rectangle(80, 50));
        Assert.Equal(healthy.CutTimeS!.Value / 0.6, faulty.CutTimeS!.Value, 1e-6);
        Assert.True(AtDepth(saw, 25) < AtDepth(Make.AtCycle(Make.Quiet(SectionFactory.Rectangle(80, 50)), 3), 25) * 0.9);
    }

    [Fact]
    public void GuideDrag_RaisesIdleAndCutAlike()
    {
        var (healthy, faulty, saw) = Compare(new GuideDrag(Third, 0.3));
        Assert.Equal(Idle(saw) + 0.3, Number(saw, faulty.Contact!.Value.AddSeconds(-0.5), Signal.MotorLoad), 1e-9);
        Assert.Equal(AtDepth(Make.AtCycle(3), 40) + 0.3, AtDepth(saw, 40), 1e-9);
        Assert.Equal(healthy.EnergyKj, faulty.EnergyKj, 1e-9);
    }

    [Fact]
    public void WrongMaterial_LoadsByItsOwnForce_UnderTheSameJob()
    {
        var other = new VirtualMaterial("tougher steel", 2550, 0.25);
        var (healthy, faulty, _) = Compare(new WrongMaterial(Third, other), SectionFactory.Rectangle(80, 50));
        Assert.Equal("tougher steel", faulty.Material.Name);
        Assert.Equal("J-100", faulty.ControllerJob);
        var pace = Math.Pow(1.5, -0.25);
        Assert.Equal(healthy.CutTimeS!.Value / pace, faulty.CutTimeS!.Value, 1e-6);
        Assert.Equal(healthy.EnergyKj * 1.5 * Math.Pow(pace, -0.25), faulty.EnergyKj, 1e-4);
    }

    [Fact]
    public void WrongGrade_LoadsHarder_WhicheverJobIsRun()
    {
        var (healthy, faulty, _) = Compare(new WrongGrade(Third, 1.5), SectionFactory.Rectangle(80, 50));
        var pace = Math.Pow(1.5, -0.25);
        Assert.Equal(healthy.CutTimeS!.Value / pace, faulty.CutTimeS!.Value, 1e-6);
        Assert.Equal(healthy.EnergyKj * 1.5 * Math.Pow(pace, -0.25), faulty.EnergyKj, 1e-4);
        Assert.Equal(healthy.Material.Kc11 * 1.5, faulty.Material.Kc11, 1e-9);
    }

    [Fact]
    public void LooseStock_SwingsTheLoadOverItsStretch_AndLeavesEnergyAndTime()
    {
        var section = SectionFactory.Rectangle(80, 50);
        var (healthy, faulty, saw) = Compare(new LooseStock(Third, 0.5, 20, 0.4, 5), section);
        // Four whole waves: what the peaks add the troughs take away.
        Assert.Equal(healthy.EnergyKj, faulty.EnergyKj, healthy.EnergyKj * 1e-6);
        Assert.Equal(healthy.CutTimeS!.Value, faulty.CutTimeS!.Value, 1e-9);
        var usual = AtDepth(Make.AtCycle(Make.Quiet(section), 3), 20) - Idle(saw);
        Assert.Equal(usual, AtDepth(saw, 10) - Idle(saw), 1e-6);
        Assert.Equal(1.4 * usual, AtDepth(saw, 16.25) - Idle(saw), 0.01 * usual);
        Assert.Equal(0.6 * usual, AtDepth(saw, 18.75) - Idle(saw), 0.01 * usual);
    }

    [Fact]
    public void FaultOnBar_BeginsWithTheFirstCutOfABar_AndGoesWithIt()
    {
        // A bar of 3 m gives 12 cuts: the bars begin with cycles 1, 13, 25.
        var truths = Cycles(new VirtualSaw(Make.Quiet(faults: new WrongGrade(FaultTrigger.OnBar(5), 1.3))), 28);
        Assert.Equal(truths.Where(truth => truth.Bar == "BAR00002").Select(truth => truth.Cycle), truths.Where(truth => truth.Faults.Count > 0).Select(truth => truth.Cycle));
        var few = Cycles(new VirtualSaw(Make.Quiet(faults: new WrongGrade(FaultTrigger.OnBar(5, 3), 1.3))), 28);
        Assert.Equal([13, 14, 15], few.Where(truth => truth.Faults.Count > 0).Select(truth => truth.Cycle));
    }

    [Fact]
    public void BladeBreak_LoadFallsBelowIdle_WhileTheHeadGoesOn()
    {
        var (_, truth, saw) = Compare(new BladeBreak(Third, 0.5, 3));
        var lost = truth.BladeLost!.Value;
        Assert.Equal(50, Number(saw, lost, Signal.HeadPosition), 1e-4);
        Assert.True(Number(saw, lost.AddSeconds(-0.1), Signal.MotorLoad) > Idle(saw) * 1.3);
        Assert.True(Number(saw, lost.AddSeconds(0.1), Signal.MotorLoad) < Idle(saw));
        Assert.True(Number(saw, lost.AddSeconds(2.9), Signal.HeadPosition) < 49);
        Assert.Equal(3, (truth.Left!.Value - lost).TotalSeconds, 1e-6);
        Assert.Equal(CyclePhases.BladeBreakCode, Number(saw, truth.Left.Value.AddSeconds(1), Signal.FaultCode));
        Assert.False(Flag(saw, truth.Left.Value.AddSeconds(1), Signal.CycleActive));
        Assert.Equal(CutOutcome.Aborted, truth.Outcome);
        Assert.Null(truth.Breakthrough);
        saw.NextTurn();
        Assert.Equal("BL002", saw.Truth.Blade);
        Assert.Equal(1, Number(saw, saw.Truth.Started, Signal.ScrapCount));
        Assert.Equal(truth.PartCount, saw.Truth.PartCount - 1);
    }

    [Fact]
    public void Stall_LoadGoesUp_HeadAndBladeStandStill_ThenItTrips()
    {
        var (_, truth, saw) = Compare(new Stall(Third, 0.4, 4, 1.6));
        var left = truth.Left!.Value;
        Assert.Equal(60, Number(saw, left, Signal.HeadPosition), 1e-4);
        Assert.Equal(60, Number(saw, left.AddSeconds(3.9), Signal.HeadPosition), 1e-4);
        Assert.Equal(1.6 * 4, Number(saw, left.AddSeconds(2), Signal.MotorLoad), 0.01);
        Assert.Equal(0, Number(saw, left.AddSeconds(1), Signal.BladeSpeed));
        Assert.Equal(0, Number(saw, left.AddSeconds(4.1), Signal.MotorLoad));
        Assert.Equal(CyclePhases.MotorProtectionCode, Number(saw, left.AddSeconds(4.1), Signal.FaultCode));
        Assert.Equal(left.AddSeconds(4), truth.Ended);
        Assert.Equal(CutOutcome.Aborted, truth.Outcome);
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void FeedHold_StopsTheHead_ThenTheCutGoesOn(bool bladeStops)
    {
        var (healthy, truth, saw) = Compare(new FeedHold(Third, 0.3, 12, bladeStops));
        var hold = Assert.Single(truth.Holds);
        Assert.Equal(12, hold.DurationS, 1e-9);
        Assert.Equal(healthy.CutTimeS!.Value + 12, truth.CutTimeS!.Value, 1e-6);
        Assert.Equal(healthy.EnergyKj, truth.EnergyKj, 1e-5);
        Assert.Equal(CutOutcome.Completed, truth.Outcome);
        foreach (var s in new[] { 0.01, 5, 11.9 })
            Assert.Equal(70, Number(saw, hold.Started.AddSeconds(s), Signal.HeadPosition), 1e-4);
        Assert.True(Number(saw, hold.Started.AddSeconds(12.5), Signal.HeadPosition) < 70);
        Assert.Equal(bladeStops ? 0 : Idle(saw), Number(saw, hold.Started.AddSeconds(6), Signal.MotorLoad), 1e-9);
        Assert.Equal(!bladeStops, Flag(saw, hold.Started.AddSeconds(6), Signal.BladeRunning));
        Assert.True(Flag(saw, hold.Started.AddSeconds(6), Signal.CycleActive));
        if (bladeStops)
            Assert.True(Number(saw, hold.Started.AddSeconds(11.3), Signal.MotorLoad) > 2);
    }

    [Fact]
    public void EmergencyStop_EverythingFalls_AndTheHeadIsRaisedLater()
    {
        var (_, truth, saw) = Compare(new EmergencyStop(Third, 0.5, 60));
        var pressed = truth.Left!.Value;
        Assert.Equal(pressed, truth.Ended);
        Assert.True(Flag(saw, pressed.AddMilliseconds(-1), Signal.CycleActive));
        Assert.False(Flag(saw, pressed.AddMilliseconds(1), Signal.CycleActive));
        Assert.Equal(CyclePhases.EmergencyStopCode, Number(saw, pressed.AddSeconds(30), Signal.FaultCode));
        Assert.Equal(0, Number(saw, pressed.AddSeconds(0.1), Signal.MotorLoad));
        Assert.Equal(50, Number(saw, pressed.AddSeconds(59.9), Signal.HeadPosition), 1e-4);
        Assert.Equal(100, Number(saw, truth.Raised!.Value, Signal.HeadPosition), 0.01);
        Assert.Equal(0, Number(saw, truth.Raised.Value, Signal.FaultCode));
        Assert.True(saw.TrySample(truth.Raised.Value, out var frame));
        Assert.Equal("manual", frame.Text(Signal.Mode));
        Assert.Equal(CutOutcome.Aborted, truth.Outcome);
        Assert.Equal(SectionFactory.Round(100).AreaCm2 / 2, truth.CutAreaCm2, 1e-6);
    }

    [Fact]
    public void PartialCut_RetractsInOrder_AndCountsOnlyWhereAsked()
    {
        var (healthy, truth, saw) = Compare(new PartialCut(Third, 0.35));
        Assert.Equal(CutOutcome.Partial, truth.Outcome);
        Assert.Equal(35, truth.DepthMm, 1e-9);
        Assert.Equal(65, Number(saw, truth.Left!.Value, Signal.HeadPosition), 1e-4);
        Assert.True(Number(saw, truth.Left.Value.AddSeconds(0.5), Signal.HeadPosition) > 66);
        Assert.True(Flag(saw, truth.Left.Value.AddSeconds(0.5), Signal.CycleActive));
        Assert.Equal(0, Number(saw, truth.Left.Value.AddSeconds(0.5), Signal.FaultCode));
        Assert.Equal(healthy.PartCount - 1, truth.PartCount);
        Assert.Equal(healthy.PartCount, Make.AtCycle(3, new PartialCut(Third, 0.35, Counts: true)).Truth.PartCount);
    }

    [Fact]
    public void NoStock_TheStrokeRunsInAir_AndIsCounted()
    {
        var (healthy, truth, saw) = Compare(new NoStock(Third));
        Assert.Null(truth.Contact);
        Assert.Null(truth.Outcome);
        Assert.Null(truth.CutTimeS);
        Assert.Equal(healthy.PartCount, truth.PartCount);
        var loads = Enumerable.Range(0, 400).Select(i => Number(saw, truth.Started.AddSeconds(15 + (i * 0.05)), Signal.MotorLoad));
        Assert.All(loads, load => Assert.Equal(Idle(saw), load, 1e-9));
    }

    [Fact]
    public void StuckSignal_KeepsItsValueForItsCycles()
    {
        var saw = Make.AtCycle(3, new StuckSignal(FaultTrigger.AtCycle(3, 2), Signal.HeadPosition));
        var truth = saw.Truth;
        var middle = truth.Started + ((truth.Ended - truth.Started) / 2);
        var kept = Number(saw, middle, Signal.HeadPosition);
        Assert.InRange(kept, 10, 95);
        Assert.NotEqual(kept, Number(saw, middle.AddSeconds(-3), Signal.HeadPosition));
        Assert.Equal(kept, Number(saw, truth.Ended.AddMilliseconds(-1), Signal.HeadPosition), 1e-6);
        saw.NextTurn();
        Assert.Equal(["stuck_signal"], saw.Truth.Faults);
        Assert.Equal(kept, Number(saw, saw.Truth.Contact!.Value, Signal.HeadPosition), 1e-6);
        saw.NextTurn();
        Assert.Equal(100, Number(saw, saw.Truth.Contact!.Value, Signal.HeadPosition), 1e-4);
    }

    [Fact]
    public void ControllerRestart_InTheWait_DoesNotAnswer_AndCountsFromZero()
    {
        var options = Make.Quiet(faults: new ControllerRestart(Third, 20));
        var saw = Make.AtCycle(options with { Machine = options.Machine with { CounterStart = 500 } }, 3);
        var answers = Enumerable.Range(0, 300).Select(i => saw.TrySample(saw.TurnStart.AddMilliseconds(100 * i), out _)).ToArray();
        Assert.Equal(200, answers.Count(answer => !answer), 1.0);
        Assert.Equal(501, Make.AtCycle(options with { Machine = options.Machine with { CounterStart = 500 } }, 2).Truth.PartCount);
        Assert.Equal(0, Number(saw, saw.Truth.Started, Signal.PartCount));
        Assert.Equal(1, saw.Truth.PartCount);
        Assert.Equal(CutOutcome.Completed, saw.Truth.Outcome);
    }

    [Fact]
    public void ControllerRestart_InTheCut_GivesItUp()
    {
        var (_, truth, saw) = Compare(new ControllerRestart(Third, 20, 0.5));
        Assert.True(saw.TrySample(truth.Left!.Value.AddMilliseconds(-1), out _));
        Assert.False(saw.TrySample(truth.Left.Value.AddMilliseconds(1), out _));
        Assert.False(saw.TrySample(truth.Left.Value.AddSeconds(19.9), out _));
        Assert.Equal(CyclePhases.RestartCode, Number(saw, truth.Left.Value.AddSeconds(20.1), Signal.FaultCode));
        Assert.Equal(0, Number(saw, truth.Left.Value.AddSeconds(20.1), Signal.PartCount));
        Assert.Equal(CutOutcome.Aborted, truth.Outcome);
    }

    [Fact]
    public void WrongJob_ShowsAtTheControllerOnly()
    {
        var (healthy, truth, saw) = Compare(new WrongJob(Third, "J-999"));
        Assert.True(saw.TrySample(truth.Contact!.Value, out var frame));
        Assert.Equal("J-999", frame.Text(Signal.Job));
        Assert.Equal("J-999", truth.ControllerJob);
        Assert.Equal("J-100", truth.Job.Id);
        Assert.Equal(healthy.CutTimeS, truth.CutTimeS);
    }

    private static double AtDepth(VirtualSaw saw, double depthMm)
    {
        // Searched in the signals: the moment at which the head stands at this depth.
        var (from, to) = (saw.Truth.Contact!.Value, saw.Truth.Breakthrough!.Value);
        var height = saw.Truth.Job.Section.HeightMm;
        while (to - from > TimeSpan.FromTicks(10))
        {
            var middle = from + ((to - from) / 2);
            if (height - Number(saw, middle, Signal.HeadPosition) < depthMm)
                from = middle;
            else
                to = middle;
        }

        return Number(saw, from, Signal.MotorLoad);
    }

    private static double Correlation(double[] values, int shift)
    {
        var mean = values.Average();
        var pairs = values.Zip(values.Skip(shift)).ToArray();
        return pairs.Sum(pair => (pair.First - mean) * (pair.Second - mean)) / pairs.Sum(pair => (pair.First - mean) * (pair.First - mean));
    }
}
