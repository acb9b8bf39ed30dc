using SawEdge.Core.Alarms;
using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;
using SawEdge.Core.Tests.Cycles;

namespace SawEdge.Core.Tests.Alarms;

public sealed class SawAlarmWatchAllocationTests
{
    [Fact]
    public void Push_WhileNothingComesOrGoes_AllocatesNothing()
    {
        AlarmRule[] rules =
        [
            .. DefaultRules.All,
            MadeRules.Load(AlarmComparison.Above, 10, 8, on: 1) with { Name = "high", While = SawStates.Cutting },
            MadeRules.Rule(AlarmTopic.Signal, "mode", MadeRules.IsNot("automatic"), "mode") with { While = SawStates.Cycle },
        ];
        var watch = new SawAlarmWatch("Saw 1", rules);
        var frames = new SawScript().FullCut(out _, out _).Frames(0.1, [Signal.HeadPosition, Signal.MotorLoad, Signal.Cutting, Signal.FaultCode, Signal.Job], noise: 0.05).ToArray();
        for (var i = 0; i < frames.Length; i++)
            frames[i].Set(Signal.Mode, "automatic");
        foreach (var frame in frames.AsSpan(0, 10))
            watch.Push(frame, CyclePhase.Cycle, 2);
        watch.Drain();

        var allocating = 0;
        foreach (var frame in frames.AsSpan(10))
        {
            var before = GC.GetAllocatedBytesForCurrentThread();
            watch.Push(frame, CyclePhase.Cycle, 2);
            watch.TryTake(out _);
            if (GC.GetAllocatedBytesForCurrentThread() != before)
                allocating++;
        }

        // A collection that another test sets off counts the rest of this thread's allocation window as used: once, not per frame.
        Assert.InRange(allocating, 0, 5);
        Assert.True(frames.Length > 900);
    }
}
