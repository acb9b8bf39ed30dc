using SawEdge.Core.Cycles;
using SawEdge.Core.Sections;
using SawEdge.Core.Signals;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;

namespace SawEdge.Simulator.Tests.Load;

/// <summary>Saws that tell little: what follows from it by the settings of the examples must find the same cuts.</summary>
public sealed class DerivedSignalsTests
{
    private static readonly DerivedFlagRule Cutting = new(
        Signal.Cutting,
        [new(Signal.MotorLoad, ConditionKind.Above, 1.2)],
        TimeSpan.FromMilliseconds(500),
        TimeSpan.FromSeconds(1));

    /// <summary>Nothing but a load transducer and the contact of the automatic cycle.</summary>
    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    public void Push_LoadAndACycleContact_FindsEachCut(ulong seed)
    {
        var (truth, cuts) = Run(seed, [Signal.MotorLoad, Signal.CycleActive], Cutting with { When = [new(Signal.CycleActive, ConditionKind.IsSet), .. Cutting.When] });
        AssertFound(truth, cuts, off: 1);
    }

    /// <summary>
    /// A load transducer alone: the cutting bit follows from the load. A round begins and ends so gently that the bit, and with it
    /// the cut, is short by a few seconds of its fifty: the price of a limit in place of a contact.
    /// </summary>
    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    public void Push_LoadAlone_FindsEachCutByTheDerivedBit(ulong seed)
    {
        var (truth, cuts) = Run(seed, [Signal.MotorLoad], Cutting);
        AssertFound(truth, cuts, off: 3);
    }

    /// <summary>A motor's current in place of its power: with the no-load current stated, the active part gives the load back.</summary>
    [Fact]
    public void Apply_AMotorsCurrent_GivesTheLoadBack()
    {
        const double Rated = 4;
        const double NoLoad = 3.1;
        const double RatedCurrent = 8.2;
        var conversion = new MotorCurrentConversion(1, 0, Rated, RatedCurrent, NoLoad);
        var active = Math.Sqrt((RatedCurrent * RatedCurrent) - (NoLoad * NoLoad));
        foreach (var frame in RecordingGenerator.Frames(new VirtualSaw(Make.Quiet()), new RecordingOptions { Cycles = 2 }))
        {
            if (!frame.Has(Signal.MotorLoad))
                continue;
            var load = frame.Number(Signal.MotorLoad);
            Assert.Equal(load, conversion.Apply(Math.Sqrt((NoLoad * NoLoad) + Math.Pow(active * load / Rated, 2))), 9);
        }
    }

    private static (IReadOnlyList<SawTruth> Truth, List<Cut> Cuts) Run(ulong seed, Signal[] signals, DerivedFlagRule rule)
    {
        var saw = new VirtualSaw(Make.Quiet(SectionFactory.Round(80)) with { Seed = seed, Noise = new NoiseModel() });
        var flag = new DerivedFlag(rule);
        var detector = new CycleDetector();
        var cuts = new List<Cut>();
        foreach (var whole in RecordingGenerator.Frames(saw, new RecordingOptions { Cycles = 20 }))
        {
            var frame = new SignalFrame(whole.Time);
            foreach (var signal in signals.Where(signal => whole.Has(signal)))
                frame.Set(signal, whole.Number(signal));
            flag.Apply(ref frame);
            detector.Push(frame);
            while (detector.TryTake(out var cut))
                cuts.Add(cut);
        }

        detector.Complete();
        while (detector.TryTake(out var cut))
            cuts.Add(cut);
        return (saw.TakeFinished(), cuts);
    }

    private static void AssertFound(IReadOnlyList<SawTruth> truth, List<Cut> cuts, double off)
    {
        var due = truth.Where(cycle => cycle.Contact is not null && cycle.Breakthrough is not null).ToList();
        Assert.NotEmpty(due);
        foreach (var cycle in due)
        {
            var cut = Assert.Single(cuts, cut => cut.CutStartedAt < cycle.Breakthrough && cut.CutEndedAt > cycle.Contact);
            Assert.InRange((cut.CutStartedAt - cycle.Contact)!.Value.TotalSeconds, -off, off);
            Assert.InRange((cut.CutEndedAt - cycle.Breakthrough)!.Value.TotalSeconds, -off, off);
        }
    }
}
