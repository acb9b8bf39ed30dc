using System.Globalization;
using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;
using static SawEdge.Core.Tests.Cycles.GappedRun;

namespace SawEdge.Core.Tests.Cycles;

/// <summary>Cycles that nobody saw, as the controller's part counter tells of them.</summary>
public sealed class UnseenPartsTests
{
    private static readonly Signal[] Everything = [Signal.HeadPosition, Signal.MotorLoad, Signal.CycleActive, Signal.Cutting, Signal.BladeRunning, Signal.FaultCode, Signal.PartCount, Signal.Job];
    private static readonly Signal[] NoHead = [Signal.MotorLoad, Signal.CycleActive, Signal.PartCount];

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Push_TwoCyclesInAGapBetweenCycles_TheNextRecordStatesThem(bool restart)
    {
        var script = Cuts(5, out var ends);
        var cuts = Detect(script, Everything, restart, (ends[1] - 4, ends[3] - 4));

        Assert.Equal(3, cuts.Count);
        Assert.Equal(new UnseenParts(2, true, Before(ends[1] - 4), At(ends[3] - 4)), cuts[2].Before);
        Assert.Equal(["the controller counted 2 parts of cycles that were not seen, between " + Text(Before(ends[1] - 4)) + " and " + Text(At(ends[3] - 4))], cuts[2].Notes);
        Assert.All(cuts.Take(2), cut => Assert.Null(cut.Before));
        Assert.All(cuts, cut => Assert.Equal(CutOutcome.Completed, cut.Outcome));
    }

    /// <summary>The history keeps milliseconds, halves up: what it says after a start and what the frames say in a replay are the same words.</summary>
    [Fact]
    public void Words_OfTimesBetweenMilliseconds_AreRoundedAsWhatIsStored()
    {
        var (from, to) = (At(10).AddTicks(4_6670), At(20).AddTicks(4_6649));
        var stored = new UnseenParts(1, true, At(10).AddMilliseconds(5), At(20).AddMilliseconds(5));
        Assert.Equal(stored.Words, new UnseenParts(1, true, from, to).Words);
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Push_GapFromOneCutIntoAnother_TheOpenCutsPartIsNotAmongThem(bool restart)
    {
        // From the middle of the second cut into the middle of the fifth: the third and fourth were not seen.
        var script = Cuts(6, out var ends);
        var cuts = Detect(script, Everything, restart, (ends[1] - 60, ends[4] - 60));

        Assert.Equal([CutOutcome.Completed, CutOutcome.UnobservedEnd, CutOutcome.UnobservedStart, CutOutcome.Completed], cuts.Select(cut => cut.Outcome));
        Assert.Equal(2, cuts[2].Before?.Counted);
        Assert.Null(cuts[1].Before);
        Assert.Null(cuts[3].Before);
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Push_NothingWasCountedInTheGap_NothingIsStated(bool restart)
    {
        var script = new SawScript().Wait(20).FullCut(out _, out _);
        var from = script.Now;
        script.Wait(600).FullCut(out _, out _);
        Assert.All(Detect(script, Everything, restart, (from, from + 500)), cut => Assert.Null(cut.Before));
    }

    [Theory]
    [InlineData(0, false)]
    [InlineData(0, true)]
    [InlineData(1, false)]
    [InlineData(1, true)]
    public void Push_CounterThatFellInTheGap_SaysThatTheyAreNotKnown(long counterAfterwards, bool restart)
    {
        var script = Cuts(3, out _);
        var from = script.Now;
        script.Count(counterAfterwards).Wait(900);
        var to = script.Now;
        script.FullCut(out _, out _);
        var cuts = Detect(script, Everything, restart, (from - 4, to - 100));

        Assert.Equal(4, cuts.Count);
        Assert.False(cuts[3].Before!.IsWhole);
        Assert.Equal(0, cuts[3].Before!.Counted);
        Assert.Contains(cuts[3].Notes, note => note.StartsWith("the part counter was set back or rolled over while nothing was seen", StringComparison.Ordinal) && note.EndsWith("not known", StringComparison.Ordinal));
    }

    [Fact]
    public void Push_TwoGapsBeforeOneRecord_AreStatedTogether()
    {
        var script = Cuts(6, out var ends);
        var cuts = Detect(script, Everything, restart: true, (ends[0] - 4, ends[1] - 4), (ends[2] - 130, ends[4] - 4));

        // The third cycle begins after the second gap has begun.
        Assert.Equal(2, cuts.Count);
        Assert.Equal(4, cuts[1].Before?.Counted);
        Assert.Equal((Before(ends[0] - 4), At(ends[4] - 4)), (cuts[1].Before!.From, cuts[1].Before!.To));
    }

    [Fact]
    public void Push_ACounterThatWasNeverReadBefore_TellsNothing()
    {
        var script = new SawScript().Count(4711).Wait(20).FullCut(out _, out _);
        Assert.All(Detect(script, Everything, restart: false), cut => Assert.Null(cut.Before));
    }

    [Fact]
    public void Resume_WithTheEndOfTheTimeline_TheTimeBeginsThere()
    {
        var script = Cuts(4, out var ends);
        var frames = script.Frames(Interval, Everything).ToList();
        var first = new CycleDetector();
        SawScript.Detect(frames.TakeWhile(frame => frame.Time < At(ends[0] - 4)), first, complete: false);
        var second = new CycleDetector();
        second.Restore(first.Save());
        second.Resume(At(ends[0]));
        SawScript.Detect(frames.SkipWhile(frame => frame.Time < At(ends[2] - 4)), second);
        Assert.True(second.TryTakeUnseen(out var unseen));
        Assert.Equal(new UnseenParts(2, true, At(ends[0]), At(ends[2] - 4)), unseen);
        Assert.False(second.TryTakeUnseen(out _));
    }

    [Fact]
    public void Push_AFrameThatHoldsNothingWhenFramesComeAgain_ClosesNoCut()
    {
        // The device could not be reached at first: what the saw did meanwhile is told by the first frame that holds something.
        var script = Cuts(1, out var ends);
        var frames = script.Frames(Interval, Everything).Where(frame => frame.Time < At(ends[0] - 60) || frame.Time > At(ends[0] - 50)).ToList();
        frames.Insert(frames.FindIndex(frame => frame.Time > At(ends[0] - 55)), new SignalFrame(At(ends[0] - 53)));
        var cut = Assert.Single(SawScript.Detect(frames));
        Assert.Equal(CutOutcome.Completed, cut.Outcome);
    }

    public static TheoryData<int, bool, bool> Seeds()
    {
        var data = new TheoryData<int, bool, bool>();
        for (var seed = 1; seed <= 8; seed++)
        {
            foreach (var hasHead in (bool[])[true, false])
            {
                data.Add(seed, hasHead, true);
                data.Add(seed, hasHead, false);
            }
        }

        return data;
    }

    // What is recorded and what is stated make up what the controller counted, wherever frames are missing.
    [Theory]
    [MemberData(nameof(Seeds))]
    public void Push_GapsAnywhere_RecordsAndWhatIsStatedAreTheTruth(int seed, bool hasHead, bool restart)
    {
        const int Made = 30;
        var random = new Random(seed);
        var script = Cuts(Made, out _, random);
        var gaps = new List<(double From, double To)>();
        for (var at = 200 + (random.NextDouble() * 300); at < script.Now - 1200; at = gaps[^1].To + 400 + (random.NextDouble() * 600))
            gaps.Add((at, at + ((gaps.Count % 3) switch { 0 => 600, 1 => 6, _ => 60 } * (0.6 + random.NextDouble()))));
        Assert.True(gaps.Count >= 3);
        var cuts = Detect(script, hasHead ? Everything : NoHead, restart, [.. gaps]);
        var parts = cuts.Count(cut => cut.Outcome is CutOutcome.Completed or CutOutcome.UnobservedStart or CutOutcome.UnobservedEnd);
        var stated = cuts.Sum(cut => cut.Before?.Counted ?? 0);
        Assert.True(parts + stated == Made, $"seed {seed}: {parts} recorded and {stated} stated of {Made}\n" + string.Join('\n', cuts.Select(cut => $"{(cut.StartedAt - SawScript.Epoch).TotalSeconds:0.0} {(cut.EndedAt - SawScript.Epoch).TotalSeconds:0.0} {cut.Outcome} {cut.PartCount} {string.Join("; ", cut.Notes)}")) + "\n" + string.Join('\n', gaps.Select(gap => $"{gap.From:0.0} {gap.To:0.0}")));
        Assert.All(cuts, cut => Assert.True(cut.Before is null || cut.Before.IsWhole));
        Assert.True(stated > 0);
    }

    private static string Text(DateTimeOffset at) => at.UtcDateTime.ToString("yyyy-MM-dd'T'HH:mm:ss.fff'Z'", CultureInfo.InvariantCulture);
}
