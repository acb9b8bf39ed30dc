using SawEdge.Core.Cycles;
using SawEdge.Core.Sections;
using SawEdge.Core.Signals;
using SawEdge.Simulator.Faults;
using SawEdge.Simulator.Saws;

namespace SawEdge.Simulator.Tests.Saws;

public sealed class VirtualSawTests
{
    private static readonly TimeSpan Ms = TimeSpan.FromMilliseconds(1);

    [Fact]
    public void TrySample_SameOptions_GivesTheSameFrames()
    {
        var options = Make.Quiet() with { Noise = new NoiseModel(), Work = new WorkPattern() };
        Assert.Equal(Trace(new(options), 400, 130), Trace(new(options), 400, 130));
        Assert.NotEqual(Trace(new(options), 400, 130), Trace(new(options with { Seed = 8 }), 400, 130));
    }

    [Fact]
    public void TrySample_CoarserInterval_SeesTheSameValues()
    {
        var options = Make.Quiet() with { Noise = new NoiseModel(), Work = new WorkPattern() };
        var fine = Trace(new(options), 3000, 70);
        var coarse = Trace(new(options), 300, 700);
        Assert.Equal(coarse, fine.Where((_, i) => i % 10 == 0));
    }

    [Fact]
    public void TrySample_BackWithinTheTurn_GivesTheSameValues()
    {
        var saw = Make.AtCycle(Make.Quiet() with { Noise = new NoiseModel() }, 2);
        var times = Enumerable.Range(0, 60).Select(i => saw.TurnStart + TimeSpan.FromSeconds(i * 0.97)).ToArray();
        var forward = times.Select(time => Text(saw, time)).ToArray();
        var backward = times.Reverse().Select(time => Text(saw, time)).Reverse().ToArray();
        Assert.Equal(forward, backward);
    }

    [Fact]
    public void TrySample_BeforeTheTurn_IsRefused()
    {
        var saw = Make.AtCycle(2);
        var wrong = Assert.Throws<ArgumentOutOfRangeException>(() => saw.TrySample(Make.Start, out _));
        Assert.Contains("saw-1", wrong.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Head_AtTheTrueTimes_StandsAtTopAndBottomOfTheStock()
    {
        var saw = Make.AtCycle(2);
        var truth = saw.Truth;
        Assert.Equal(100, Number(saw, truth.Contact!.Value, Signal.HeadPosition), 1e-4);
        Assert.Equal(0, Number(saw, truth.Breakthrough!.Value, Signal.HeadPosition), 1e-4);
        Assert.Equal(CutOutcome.Completed, truth.Outcome);
    }

    [Fact]
    public void Cycle_ByItsSignals_GoesThroughItsPhasesInOrder()
    {
        var saw = Make.AtCycle(2);
        var machine = saw.Machine;
        var truth = saw.Truth;
        Assert.False(Flag(saw, truth.Started - Ms, Signal.CycleActive));
        Assert.True(Flag(saw, truth.Started + Ms, Signal.CycleActive));
        Assert.True(Flag(saw, truth.Ended - Ms, Signal.CycleActive));
        // Index, clamp, blade start, rapid approach and the last 4 mm: the handbook of this saw's own settings.
        var approach = (machine.RestHeightMm - 104) / machine.ApproachMmMin * 60;
        var expected = machine.IndexStrokeS + machine.ClampS + machine.BladeStartS + approach + (4 / machine.MaximumDescentMmMin * 60);
        Assert.Equal(expected, (truth.Contact!.Value - truth.Started).TotalSeconds, 1e-6);
        var after = (4 / machine.MaximumDescentMmMin * 60) + ((machine.RestHeightMm + 4) / machine.ReturnMmMin * 60) + machine.UnclampS;
        Assert.Equal(after, (truth.Ended - truth.Breakthrough!.Value).TotalSeconds, 1e-6);
        Assert.False(Flag(saw, truth.Contact.Value.AddSeconds(-2), Signal.Cutting));
        Assert.True(Flag(saw, truth.Contact.Value, Signal.Cutting));
        Assert.False(Flag(saw, truth.Breakthrough.Value.AddSeconds(2), Signal.Cutting));
    }

    [Fact]
    public void CuttingBit_InStock_IsSetFromContactToBreakthroughOnly()
    {
        var options = Make.Quiet();
        var saw = Make.AtCycle(options with { Machine = options.Machine with { CuttingBit = CuttingBit.InStock } }, 2);
        var truth = saw.Truth;
        Assert.False(Flag(saw, truth.Contact!.Value - Ms, Signal.Cutting));
        Assert.True(Flag(saw, truth.Contact.Value + Ms, Signal.Cutting));
        Assert.True(Flag(saw, truth.Breakthrough!.Value - Ms, Signal.Cutting));
        Assert.False(Flag(saw, truth.Breakthrough.Value + Ms, Signal.Cutting));
    }

    [Fact]
    public void CycleActive_InARun_StaysSetBetweenItsCycles()
    {
        var options = Make.Quiet();
        var saw = Make.AtCycle(options with { Machine = options.Machine with { CycleActiveInRun = true } }, 3);
        Assert.True(Flag(saw, saw.Truth.Started - Ms, Signal.CycleActive));
        // The 13th cycle is the first of the next bar: the saw was set up before it.
        while (saw.Truth.Cycle < 13)
            saw.NextTurn();
        Assert.False(Flag(saw, saw.Truth.Started - Ms, Signal.CycleActive));
        Assert.True(Flag(saw, saw.Truth.Started + Ms, Signal.CycleActive));
    }

    [Theory]
    [InlineData(0)]
    [InlineData(0.4)]
    public void Energy_IntegratedFromTheSignal_IsForceTimesVolume(double lagS)
    {
        var options = Make.Quiet(SectionFactory.Rectangle(80, 50), Make.FlatForce);
        var saw = Make.AtCycle(options with { Noise = NoiseModel.None with { TransducerLagS = lagS } }, 2);
        var truth = saw.Truth;
        // From contact until the lagged load has settled again, in steps of 1 ms, midpoints.
        var idle = saw.Machine.IdleKw(70);
        double energy = 0;
        var steps = (int)((truth.CutTimeS!.Value + 1) * 1000);
        // The blade runs for 1.3 s more after breakthrough, so idle can be taken off throughout.
        for (var i = 0; i < steps; i++)
            energy += (Number(saw, truth.Contact!.Value.AddTicks((i * 10_000L) + 5000), Signal.MotorLoad) - idle) / 1000;
        // 40 cm2 * 1.6 mm kerf = 6400 mm3, at 4 J/mm3 and 80 % efficiency 32 kJ. What is still in the lag a second after
        // breakthrough is the power times lag times e^(-1 / lag).
        var inLag = lagS * Math.Exp(lagS > 0 ? -1 / lagS : 0) * (truth.EnergyKj / truth.CutTimeS.Value);
        Assert.Equal(32, energy + inLag, 32 * 1e-4);
        Assert.Equal(32, truth.EnergyKj, 1e-4);
    }

    [Fact]
    public void BladeStart_HasAnInrushAndComesUpToSpeed()
    {
        var saw = Make.AtCycle(2);
        var start = saw.Truth.Started.AddSeconds(saw.Machine.IndexStrokeS + saw.Machine.ClampS);
        Assert.Equal(0, Number(saw, start - Ms, Signal.MotorLoad));
        Assert.InRange(Number(saw, start + Ms, Signal.MotorLoad), 5, 7);
        Assert.Equal(35, Number(saw, start.AddSeconds(0.4), Signal.BladeSpeed), 0.5);
        Assert.Equal(saw.Machine.IdleKw(70), Number(saw, start.AddSeconds(0.85), Signal.MotorLoad), 1e-9);
    }

    [Fact]
    public void Lag_StepOfLoad_FollowsAFirstOrderResponse()
    {
        // At breakthrough of a bar of even width the load steps down; after one time constant 1/e of it is left.
        var options = Make.Quiet(SectionFactory.Rectangle(80, 50), Make.FlatForce);
        var saw = Make.AtCycle(options with { Noise = NoiseModel.None with { TransducerLagS = 0.3 } }, 2);
        var idle = saw.Machine.IdleKw(70);
        var before = Number(saw, saw.Truth.Breakthrough!.Value, Signal.MotorLoad) - idle;
        var after = Number(saw, saw.Truth.Breakthrough.Value.AddSeconds(0.3), Signal.MotorLoad) - idle;
        Assert.InRange(before, 0.1, 5);
        Assert.Equal(Math.Exp(-1), after / before, 1e-6);
    }

    [Fact]
    public void Bars_FirstCutIsATrim_CountsPartsOnly_AndLeavesTheRemnant()
    {
        // 3000 mm - 12 - 1.6 leave 2986.4; a part takes 251.6 and the remnant must be 120: 11 parts.
        var saw = new VirtualSaw(Make.Quiet());
        var truths = Cycles(saw, 26);
        Assert.Equal(CutOutcome.Trim, truths[0].Outcome);
        Assert.All(truths.Skip(1).Take(11), truth => Assert.Equal(CutOutcome.Completed, truth.Outcome));
        Assert.Equal(CutOutcome.Trim, truths[12].Outcome);
        Assert.Equal("BAR00001", truths[11].Bar);
        Assert.Equal("BAR00002", truths[12].Bar);
        Assert.Equal(11, truths[11].PartCount);
        Assert.Equal(11, truths[12].PartCount);
        Assert.True(truths[12].Started - truths[11].Ended > TimeSpan.FromSeconds(90));
    }

    [Fact]
    public void PartCount_WithDelay_StepsThatMuchAfterTheStroke()
    {
        var options = Make.Quiet();
        var saw = Make.AtCycle(options with { Machine = options.Machine with { CountDelayS = 9.5, CounterStart = 998, CounterLimit = 1000 } }, 2);
        var truth = saw.Truth;
        var stroke = truth.Breakthrough!.Value.AddSeconds(4 / saw.Machine.MaximumDescentMmMin * 60);
        // The step comes after the cycle, and in the turn that follows.
        Assert.True(stroke.AddSeconds(9.5) > truth.Ended);
        Assert.Equal(998, Number(saw, stroke.AddSeconds(9.4), Signal.PartCount));
        Assert.Equal(999, Number(saw, stroke.AddSeconds(9.6), Signal.PartCount));
        Assert.Equal(999, truth.PartCount);
        Assert.Equal([0L, 1L], Cycles(saw, 2).Select(cycle => cycle.PartCount));
    }

    [Fact]
    public void Jobs_AfterTheirQuantity_GiveWayToTheNext()
    {
        var options = Make.Quiet();
        var first = Make.Job() with { Quantity = 3 };
        var second = Make.Job(SectionFactory.Rectangle(60, 40)) with { Id = "J-200", Quantity = 2 };
        var truths = Cycles(new VirtualSaw(options with { Jobs = [first, second] }), 9);
        Assert.Equal(["J-100", "J-100", "J-100", "J-100", "J-200", "J-200", "J-200", "J-100", "J-100"], truths.Select(truth => truth.Job.Id));
        Assert.Equal(CutOutcome.Trim, truths[4].Outcome);
    }

    [Fact]
    public void Blade_Wears_IsChangedAtItsLife_AndTakesMoreEnergyUntilThen()
    {
        var options = Make.Quiet() with { Blade = new BladeModel { LifeM2 = 0.2, LifeSigma = 0 } };
        var truths = Cycles(new VirtualSaw(options), 60);
        var firstBlade = truths.Where(truth => truth.Blade == "BL001").ToList();
        // 78.54 cm2 a cut: 0.2 m2 are passed with the 26th.
        Assert.Equal(26, firstBlade.Count);
        Assert.Equal(26 * 78.5398 / 10_000, firstBlade[^1].BladeAreaM2, 1e-6);
        Assert.True(firstBlade[^1].EnergyKj > firstBlade[0].EnergyKj * 1.3);
        Assert.True(firstBlade[^1].CutTimeS > firstBlade[0].CutTimeS * 1.05);
        Assert.Equal(1, truths.First(truth => truth.Blade == "BL002").WearFactor);
    }

    [Fact]
    public void Shift_NoCycleBeginsOutside()
    {
        var options = Make.Quiet() with { Work = new WorkPattern { ShiftStart = new TimeOnly(6, 0), ShiftLength = TimeSpan.FromHours(4) } };
        var truths = Cycles(new VirtualSaw(options), 1500);
        Assert.All(truths, truth => Assert.InRange(truth.Started.TimeOfDay, TimeSpan.FromHours(6), TimeSpan.FromHours(10)));
        Assert.DoesNotContain(truths, truth => truth.Started.DayOfWeek is DayOfWeek.Saturday or DayOfWeek.Sunday);
        Assert.True((truths[^1].Started - truths[0].Started).TotalDays > 6);
    }

    [Fact]
    public void Signals_NotFitted_AreNotRead()
    {
        var options = Make.Quiet() with { Signals = new HashSet<Signal> { Signal.MotorLoad, Signal.CycleActive } };
        var saw = new VirtualSaw(options);
        Assert.True(saw.TrySample(Make.Start.AddSeconds(20), out var frame));
        Assert.Equal([Signal.MotorLoad, Signal.CycleActive], SignalInfo.All.Select(info => info.Signal).Where(signal => frame.Has(signal)));
    }

    [Fact]
    public void Validate_ListsEveryMistakeAtOnce()
    {
        var options = Make.Quiet();
        var wrong = Assert.Throws<ArgumentException>(() => new VirtualSaw(options with
        {
            Machine = options.Machine with { CountDelayS = 99, RestHeightMm = 50 },
            Jobs = [Make.Job() with { BarLengthMm = 100 }],
            Faults = [new Stall(FaultTrigger.AtCycle(1), 1.5)],
        }));
        Assert.Contains("CountDelayS", wrong.Message, StringComparison.Ordinal);
        Assert.Contains("head that rests at 50", wrong.Message, StringComparison.Ordinal);
        Assert.Contains("too short", wrong.Message, StringComparison.Ordinal);
        Assert.Contains("1.5", wrong.Message, StringComparison.Ordinal);
    }

    internal static List<SawTruth> Cycles(VirtualSaw saw, int count)
    {
        var truths = new List<SawTruth>();
        for (var i = 0; i < count; i++, saw.NextTurn())
            truths.Add(saw.Truth);
        return truths;
    }

    internal static double Number(VirtualSaw saw, DateTimeOffset time, Signal signal)
    {
        Assert.True(saw.TrySample(time, out var frame));
        return frame.Number(signal);
    }

    internal static bool Flag(VirtualSaw saw, DateTimeOffset time, Signal signal) => Number(saw, time, signal) != 0;

    private static string[] Trace(VirtualSaw saw, int count, int stepMs) =>
        [.. Enumerable.Range(0, count).Select(i => Text(saw, Make.Start.AddMilliseconds((double)i * stepMs)))];

    private static string Text(VirtualSaw saw, DateTimeOffset time)
    {
        Assert.True(saw.TrySample(time, out var frame));
        return string.Join('|', SignalInfo.All.Select(info => info.Kind == SignalKind.Text ? frame.Text(info.Signal) : frame.Number(info.Signal).ToString("R", System.Globalization.CultureInfo.InvariantCulture)));
    }
}
