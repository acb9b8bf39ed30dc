using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Tests.Cycles;

/// <summary>Two seconds without frames just where the head turns, as from a gateway that was started anew: how deep it went was not seen.</summary>
public sealed class LostFramesAtTheEndTests
{
    private static readonly Signal[] Everything = [Signal.HeadPosition, Signal.MotorLoad, Signal.CycleActive, Signal.Cutting, Signal.PartCount];

    [Fact]
    public void Push_CounterRose_IsCompleted_AndSaysWhatWasNotSeen()
    {
        var cut = Second(counts: true, out var through);
        Assert.Equal(CutOutcome.Completed, cut.Outcome);
        Assert.Equal(["the end of the cut fell into a gap between frames"], cut.Notes);
        Assert.Equal(through, (cut.CutEndedAt!.Value - SawScript.Epoch).TotalSeconds, 1.3);
    }

    [Fact]
    public void Push_CounterDidNotRise_IsAnUnobservedEnd_NotAPartialCut()
    {
        var cut = Second(counts: false, out _);
        Assert.Equal(CutOutcome.UnobservedEnd, cut.Outcome);
        Assert.Null(cut.CutEndedAt);
    }

    private static Cut Second(bool counts, out double through)
    {
        var script = new SawScript().Wait(20).FullCut(out _, out _, feed: 240).FullCut(out _, out var end, feed: 240, counts: counts);
        through = end;

        // 4 mm/s: the last frame stands 5 mm above the table, the next one comes when the head is on its way up.
        var cuts = SawScript.Detect(script.Frames(0.1, Everything, keep: n => n * 0.1 < end - 1.25 || n * 0.1 > end + 1.1));
        Assert.Equal(2, cuts.Count);
        Assert.Equal(CutOutcome.Completed, cuts[0].Outcome);
        return cuts[1];
    }
}
