using CsCheck;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;
using SawEdge.Core.Tests.Cycles;

namespace SawEdge.Core.Tests.Alarms;

public sealed class SawAlarmWatchSignalTests
{
    private static readonly AlarmRule High = MadeRules.Load(AlarmComparison.Above, 10, 8, on: 1, off: 1) with { Name = "high" };

    [Fact]
    public void Push_LoadBeyondTheLimitForTheDelay_TellsItOnceWithItsFacts()
    {
        var watch = new SawAlarmWatch("Saw 1", [High with { Text = AlarmTemplate.Parse("{saw}: {value} of {limit} at {head_position}, job {job}") }]);
        var changes = new List<ConditionChange>();
        for (var i = 0; i < 100; i++)
        {
            watch.Push(Frame(i * 0.1, i is >= 30 and < 60 ? 11 + (i * 0.01) : 5), CyclePhase.Cycle, 2);
            changes.AddRange(watch.Drain());
        }

        Assert.Equal("-high +high -high", changes.Words());
        var came = changes[1];
        Assert.Equal(AlarmSubject.Saw("Saw 1"), came.Subject);
        Assert.Equal(SawScript.At(4), came.At);
        Assert.Equal((11.4, 10.0), (came.Value, came.Limit));
        Assert.Equal(AlarmFact.Number(250, "mm"), came.Facts["head_position"]);
        Assert.Equal(AlarmFact.Words("J-1"), came.Facts["job"]);
        Assert.Null(came.CycleId);
        Assert.Equal(SawScript.At(7), changes[2].At);
        Assert.Empty(changes[2].Facts);
    }

    [Fact]
    public void Push_RuleOfAnotherSawOrTopic_IsPassedOver()
    {
        var watch = new SawAlarmWatch("Saw 1",
        [
            High with { Subjects = new HashSet<string> { "Saw 2" } },
            MadeRules.Rule(AlarmTopic.Communication, "silence", MadeRules.Number(AlarmComparison.Above, 0)),
            MadeRules.Rule(AlarmTopic.Gateway, "frames_lost", MadeRules.Number(AlarmComparison.Above, 0)),
            MadeRules.Rule(AlarmTopic.Oee, "oee", MadeRules.Number(AlarmComparison.Below, 1)),
        ]);
        for (var i = 0; i < 100; i++)
            watch.Push(Frame(i * 0.1, 20), CyclePhase.Cycle, 2);
        watch.Take(MadeRules.Cut(1), MadeRules.Unusual);
        Assert.Empty(watch.Drain());
        Assert.Equal(0, watch.Memory);
    }

    [Fact]
    public void Push_RuleForThisSaw_Holds()
    {
        var watch = new SawAlarmWatch("Saw 1", [High with { OnDelay = TimeSpan.Zero, Subjects = new HashSet<string> { "Saw 1" } }]);
        watch.Push(Frame(0, 20), CyclePhase.Idle, 2);
        Assert.Equal("+high", watch.Drain().Words());
    }

    // No low-load alarm while the saw is idle: the state is part of the condition.
    [Theory]
    [InlineData(SawStates.Cutting, CyclePhase.Cycle, 1, 1, 1.0, true)]
    [InlineData(SawStates.Cutting, CyclePhase.Cycle, 0, 1, 9.0, false)]
    [InlineData(SawStates.Cutting, CyclePhase.Cycle, -1, 1, 2.4, true)]
    [InlineData(SawStates.Cutting, CyclePhase.Cycle, -1, 1, 2.2, false)]
    [InlineData(SawStates.Cutting, CyclePhase.Idle, -1, 1, 9.0, false)]
    [InlineData(SawStates.Cycle, CyclePhase.Cycle, 0, 0, 1.0, true)]
    [InlineData(SawStates.Cycle, CyclePhase.Stopped, 0, 0, 1.0, false)]
    [InlineData(SawStates.Stopped, CyclePhase.Stopped, 0, 0, 1.0, true)]
    [InlineData(SawStates.Stopped | SawStates.Idle, CyclePhase.Cycle, 0, 0, 1.0, false)]
    [InlineData(SawStates.Idle, CyclePhase.Idle, 0, 0, 1.0, true)]
    [InlineData(SawStates.Idle, CyclePhase.Unknown, 0, 0, 1.0, true)]
    [InlineData(SawStates.BladeRunning, CyclePhase.Idle, 0, 1, 0.0, true)]
    [InlineData(SawStates.BladeRunning, CyclePhase.Cycle, 1, 0, 9.0, false)]
    [InlineData(SawStates.BladeRunning, CyclePhase.Idle, 0, -1, 1.0, true)]
    [InlineData(SawStates.BladeRunning, CyclePhase.Idle, 0, -1, 0.5, false)]
    [InlineData(SawStates.Any, CyclePhase.Unknown, -1, -1, 0.0, true)]
    public void Push_RuleWithStates_HoldsInThemOnly(SawStates states, CyclePhase phase, int cuttingBit, int bladeBit, double load, bool expected)
    {
        var watch = new SawAlarmWatch("Saw 1", [MadeRules.Load(AlarmComparison.Below, 100, 100) with { While = states }]);
        var frame = new SignalFrame(SawScript.At(0));
        frame.Set(Signal.MotorLoad, load);
        if (cuttingBit >= 0)
            frame.Set(Signal.Cutting, cuttingBit == 1);
        if (bladeBit >= 0)
            frame.Set(Signal.BladeRunning, bladeBit == 1);
        watch.Push(frame, phase, 2);
        Assert.Equal(expected ? "+r" : "-r", watch.Drain().Words());
    }

    [Fact]
    public void Push_LeavingTheStateBetweenTwoReadings_EndsIt()
    {
        var watch = new SawAlarmWatch("Saw 1", [MadeRules.Load(AlarmComparison.Above, 10, 10) with { While = SawStates.Cycle }]);
        watch.Push(Frame(0, 20), CyclePhase.Cycle, 2);
        watch.Push(new SignalFrame(SawScript.At(0.1)), CyclePhase.Idle, 2);
        Assert.Equal("+r -r", watch.Drain().Words());
    }

    [Fact]
    public void Push_TextRule_TellsTheTextAsItsValue()
    {
        var watch = new SawAlarmWatch("Saw 1", [MadeRules.Rule(AlarmTopic.Signal, "mode", MadeRules.IsNot("automatic")) with { OnDelay = TimeSpan.FromSeconds(2) }]);
        var changes = new List<ConditionChange>();
        for (var i = 0; i < 60; i++)
        {
            var frame = Frame(i * 0.1, 5);
            frame.Set(Signal.Mode, i >= 20 ? "manual" : "automatic");
            watch.Push(frame, CyclePhase.Idle, 2);
            changes.AddRange(watch.Drain());
        }

        Assert.Equal("-r +r", changes.Words());
        Assert.Equal(SawScript.At(4), changes[1].At);
        Assert.Equal(AlarmFact.Words("manual"), changes[1].Facts["value"]);
        Assert.Equal((double.NaN, double.NaN), (changes[1].Value, changes[1].Limit));
    }

    [Fact]
    public void Push_FlagRule_HasNoValue()
    {
        var watch = new SawAlarmWatch("Saw 1", [MadeRules.Rule(AlarmTopic.Signal, "blade_running", MadeRules.IsNot())]);
        var frame = new SignalFrame(SawScript.At(0));
        frame.Set(Signal.BladeRunning, false);
        watch.Push(frame, CyclePhase.Idle, 2);
        var change = Assert.Single(watch.Drain());
        Assert.True(change.Holds);
        Assert.Equal(double.NaN, change.Value);
    }

    // A frame that does not read a signal says nothing of it: no delay begins anew by it.
    [Fact]
    public void Push_SignalInEveryTenthFrame_RaisesAllTheSame()
    {
        var watch = new SawAlarmWatch("Saw 1", [High with { OnDelay = TimeSpan.FromSeconds(30) }]);
        for (var i = 0; i < 400; i++)
        {
            var frame = i % 10 == 0 ? Frame(i * 0.1, 20) : new SignalFrame(SawScript.At(i * 0.1));
            watch.Push(frame, CyclePhase.Idle, 2);
        }

        Assert.Equal(SawScript.At(30), Assert.Single(watch.Drain()).At);
    }

    [Fact]
    public void Push_UnusableValue_StartsTheDelayAnew()
    {
        var watch = new SawAlarmWatch("Saw 1", [High with { OnDelay = TimeSpan.FromSeconds(3) }]);
        for (var i = 0; i < 60; i++)
        {
            var frame = Frame(i * 0.1, 20);
            if (i == 20)
                frame.Mark(Signal.MotorLoad, SignalQuality.OutOfRange);
            watch.Push(frame, CyclePhase.Idle, 2);
        }

        Assert.Equal(SawScript.At(5.1), Assert.Single(watch.Drain()).At);
    }

    [Fact]
    public void Push_FramesBreakOff_TheTimeBetweenProvesNothing()
    {
        var watch = new SawAlarmWatch("Saw 1", [High with { OnDelay = TimeSpan.FromSeconds(60) }]);
        for (var i = 0; i < 100; i++)
            watch.Push(Frame(i * 0.1, 20), CyclePhase.Idle, 2);
        for (var i = 0; i < 590; i++)
            watch.Push(Frame(600 + (i * 0.1), 20), CyclePhase.Idle, 2);
        Assert.Empty(watch.Drain());
        watch.Push(Frame(660, 20), CyclePhase.Idle, 2);
        Assert.Equal("+high", watch.Drain().Words());
    }

    [Fact]
    public void Push_SignalThatComesOnceAMinute_IsNoBreak()
    {
        var watch = new SawAlarmWatch("Saw 1", [High with { OnDelay = TimeSpan.FromMinutes(5) }]);
        for (var minute = 0; minute <= 10; minute++)
            watch.Push(Frame(minute * 60, minute == 0 ? 5 : 20), CyclePhase.Idle, 2);
        Assert.Equal(["2026-03-02T06:06:00Z"], watch.Drain().Where(change => change.Holds).Select(change => change.At.ToString("yyyy-MM-dd'T'HH:mm:ss'Z'", System.Globalization.CultureInfo.InvariantCulture)));
    }

    [Fact]
    public void Push_FramesSeenBeforeOrLate_AreLeftOut_AndASetBackClockIsBelieved()
    {
        var watch = new SawAlarmWatch("Saw 1", [High with { OnDelay = TimeSpan.Zero, OffDelay = TimeSpan.Zero }]);
        watch.Push(Frame(100, 5), CyclePhase.Idle, 2);
        watch.Push(Frame(100, 20), CyclePhase.Idle, 2);
        watch.Push(Frame(99, 20), CyclePhase.Idle, 2);
        Assert.Equal("-high", watch.Drain().Words());
        watch.Push(Frame(50, 20), CyclePhase.Idle, 2);
        watch.Push(Frame(50.1, 20), CyclePhase.Idle, 2);
        Assert.Empty(watch.Drain());
        watch.Push(Frame(50.2, 20), CyclePhase.Idle, 2);
        Assert.Equal("+high", watch.Drain().Words());
    }

    // However the signals are spread over frames: the rules on each see the same.
    [Fact]
    public void Push_SignalsInFramesOfTheirOwn_TellsTheSame() => Gen.Select(Gen.Int[0, 20], Gen.Int[0, 2], Gen.Bool).Array[1, 80].Sample(
        values =>
        {
            AlarmRule[] rules =
            [
                High,
                MadeRules.Rule(AlarmTopic.Signal, "fault_code", MadeRules.Number(AlarmComparison.Above, 0), "fault") with { OnDelay = TimeSpan.FromSeconds(0.5) },
                MadeRules.Rule(AlarmTopic.Signal, "mode", MadeRules.Is("manual"), "mode"),
            ];
            var (together, apart) = (new SawAlarmWatch("Saw 1", rules), new SawAlarmWatch("Saw 1", rules));
            var (told, toldApart) = (new List<string>(), new List<string>());
            for (var i = 0; i < values.Length; i++)
            {
                var (load, fault, manual) = values[i];
                var (one, two, all) = (new SignalFrame(SawScript.At(i * 0.1)), new SignalFrame(SawScript.At((i * 0.1) + 0.05)), new SignalFrame(SawScript.At(i * 0.1)));
                one.Set(Signal.MotorLoad, (double)load);
                two.Set(Signal.FaultCode, (double)fault);
                two.Set(Signal.Mode, manual ? "manual" : "automatic");
                all.Set(Signal.MotorLoad, (double)load);
                all.Set(Signal.FaultCode, (double)fault);
                all.Set(Signal.Mode, manual ? "manual" : "automatic");
                together.Push(all, CyclePhase.Idle, 2);
                apart.Push(one, CyclePhase.Idle, 2);
                apart.Push(two, CyclePhase.Idle, 2);
                told.AddRange(together.Drain().Select(change => $"{i} {change.Rule} {change.Holds} {change.Value}"));
                toldApart.AddRange(apart.Drain().Select(change => $"{i} {change.Rule} {change.Holds} {change.Value}"));
            }

            return told.SequenceEqual(toldApart);
        },
        iter: 10_000);

    private static SignalFrame Frame(double second, double load)
    {
        var frame = new SignalFrame(SawScript.At(second));
        frame.Set(Signal.MotorLoad, load);
        frame.Set(Signal.HeadPosition, 250.0);
        frame.Set(Signal.Job, "J-1");
        return frame;
    }
}
