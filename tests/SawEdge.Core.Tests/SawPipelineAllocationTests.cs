using SawEdge.Core.Cutting;
using SawEdge.Core.Signals;
using SawEdge.Core.Tests.Cycles;

namespace SawEdge.Core.Tests;

public sealed class SawPipelineAllocationTests
{
    private static readonly Signal[] Signals = [Signal.HeadPosition, Signal.MotorLoad, Signal.CycleActive, Signal.Cutting, Signal.BladeRunning, Signal.FaultCode, Signal.PartCount, Signal.Job];

    [Fact]
    public void Push_InTheSteadyState_AllocatesNothingPerFrame()
    {
        var script = new SawScript().Wait(60).FullCut(out _, out _).FullCut(out var contact, out var through);
        var frames = script.Frames(0.1, Signals, noise: 0.05).ToArray();
        var pipeline = new SawPipeline(new SawMachine { Name = "Saw 1" }, JobBook.Empty);
        var from = Array.FindIndex(frames, frame => frame.Time > SawScript.At(contact + 2));
        var to = Array.FindIndex(frames, frame => frame.Time > SawScript.At(through - 2));
        for (var i = 0; i < from; i++)
            Push(pipeline, frames[i]);

        var allocating = 0;
        for (var i = from; i < to; i++)
        {
            var before = GC.GetAllocatedBytesForCurrentThread();
            Push(pipeline, frames[i]);
            if (GC.GetAllocatedBytesForCurrentThread() != before)
                allocating++;
        }

        // A collection that another test sets off counts the rest of this thread's allocation window as used: once, not per frame.
        Assert.InRange(allocating, 0, 5);
        Assert.True(to - from > 900);
    }

    private static void Push(SawPipeline pipeline, in SignalFrame frame)
    {
        pipeline.Push(frame);
        while (pipeline.TryTake(out _))
        {
        }
    }
}
