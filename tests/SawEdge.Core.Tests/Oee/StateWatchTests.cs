using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Tests.Oee;

public sealed class StateWatchTests
{
    private static readonly DateTimeOffset Begin = new(2026, 3, 2, 5, 0, 0, TimeSpan.Zero);

    [Fact]
    public void Push_ACycleBetweenPauses_MakesSegmentsThatMeet()
    {
        var watch = Quiet();
        Feed(watch, 0, 60, cycle: false);
        Feed(watch, 60, 160, cycle: true);
        Feed(watch, 160, 170, cycle: false);
        watch.Complete();

        Assert.Equal(
            [Segment(0, 60, TimelineState.NotExecuting), Segment(60, 160, TimelineState.Executing), Segment(160, 169.5, TimelineState.NotExecuting)],
            Taken(watch));
    }

    [Fact]
    public void Push_FramesThatStayAway_AreUnknownTime()
    {
        var watch = Quiet();
        Feed(watch, 0, 10, cycle: true);
        Feed(watch, 40, 50, cycle: true);
        watch.Complete();

        Assert.Equal([Segment(0, 9.5, TimelineState.Executing), Segment(9.5, 40, TimelineState.Unknown, job: ""), Segment(40, 49.5, TimelineState.Executing)], Taken(watch));
    }

    [Fact]
    public void Push_AShortGap_IsBridged()
    {
        var watch = Quiet();
        Feed(watch, 0, 10, cycle: true);
        Feed(watch, 13, 20, cycle: true);
        watch.Complete();

        Assert.Equal([Segment(0, 19.5, TimelineState.Executing)], Taken(watch));
    }

    [Fact]
    public void Push_FramesWithNothingUsable_DoNotShowTheSaw()
    {
        var watch = Quiet();
        Feed(watch, 0, 10, cycle: true);
        for (var t = 10d; t < 60; t += 0.5)
        {
            var frame = new SignalFrame(Begin.AddSeconds(t));
            frame.Mark(Signal.CycleActive, SignalQuality.SourceFault);
            frame.Mark(Signal.MotorLoad, SignalQuality.Invalid);
            watch.Push(frame, CyclePhase.Cycle);
        }

        Feed(watch, 60, 70, cycle: false);
        watch.Complete();

        Assert.Equal(Segment(9.5, 60, TimelineState.Unknown, job: ""), Taken(watch)[1]);
    }

    [Fact]
    public void Push_SeldomButEvenFrames_AreNoGaps()
    {
        var watch = Quiet();
        for (var t = 0; t < 1200; t += 30)
            watch.Push(Frame(t, cycle: true), CyclePhase.Cycle);

        watch.Complete();
        Assert.Equal(Begin.AddSeconds(1170), Taken(watch)[^1].To);
        Assert.Equal(TimelineState.Executing, watch.State);
        Assert.True(watch.Open!.From <= Begin.AddSeconds(150));
    }

    [Fact]
    public void Push_AFaultWithoutACycle_IsOutOfServiceWithItsCode()
    {
        var watch = Quiet();
        Feed(watch, 0, 10, cycle: true);
        Feed(watch, 10, 20, cycle: false, fault: 17);
        Feed(watch, 20, 30, cycle: false, fault: 4);
        watch.Complete();

        Assert.Equal(
            [Segment(0, 10, TimelineState.Executing), Segment(10, 20, TimelineState.OutOfService, "fault 17"), Segment(20, 29.5, TimelineState.OutOfService, "fault 4")],
            Taken(watch));
    }

    [Fact]
    public void Push_AMessageThatStandsWhileCyclesRun_IsNoFault()
    {
        var watch = Quiet();
        Feed(watch, 0, 10, cycle: true, fault: 12);
        Feed(watch, 10, 20, cycle: false, fault: 12);
        watch.Complete();

        Assert.Equal([Segment(0, 10, TimelineState.Executing), Segment(10, 19.5, TimelineState.NotExecuting)], Taken(watch));
    }

    [Fact]
    public void Push_AFaultThatStopsTheBladeInTheCycle_IsOutOfServiceThoughTheCycleBitStays()
    {
        var watch = Quiet();
        Feed(watch, 0, 10, cycle: true, blade: true);
        Feed(watch, 10, 12, cycle: true, blade: true, fault: 9);
        Feed(watch, 12, 20, cycle: true, blade: false, fault: 9);
        Feed(watch, 20, 30, cycle: true, blade: true, fault: 0);
        watch.Complete();

        Assert.Equal([Segment(0, 12, TimelineState.Executing), Segment(12, 20, TimelineState.OutOfService, "fault 9"), Segment(20, 29.5, TimelineState.Executing)], Taken(watch));
    }

    [Fact]
    public void Push_ABladeThatStandsWhileTheNextPartIsFed_IsExecuting()
    {
        var watch = Quiet();
        Feed(watch, 0, 10, cycle: true, blade: true);
        Feed(watch, 10, 20, cycle: true, blade: false);
        watch.Complete();

        Assert.Equal([Segment(0, 19.5, TimelineState.Executing)], Taken(watch));
    }

    [Fact]
    public void Push_WithoutACycleBit_FollowsTheDetectorAndTheBlade()
    {
        var watch = Quiet();
        for (var t = 0d; t < 30; t += 0.5)
        {
            var frame = new SignalFrame(Begin.AddSeconds(t));
            frame.Set(Signal.MotorLoad, t < 20 ? 4 : 0.1);
            watch.Push(frame, t < 10 ? CyclePhase.Idle : CyclePhase.Cycle, idleKw: 1);
        }

        watch.Complete();
        Assert.Equal([TimelineState.NotExecuting, TimelineState.Executing, TimelineState.NotExecuting], Taken(watch).Select(segment => segment.State));
    }

    [Fact]
    public void Push_AControllerThatSaysOff_IsNotAvailable()
    {
        var watch = Quiet();
        for (var t = 0d; t < 10; t += 0.5)
        {
            var frame = Frame(t, cycle: false);
            frame.Set(Signal.Mode, "off");
            watch.Push(frame, CyclePhase.Idle);
        }

        watch.Complete();
        Assert.Equal(Segment(0, 9.5, TimelineState.NotAvailable, "switched off"), Assert.Single(Taken(watch)));
    }

    [Fact]
    public void Push_AnotherJobWhileTheSawStands_BeginsAnotherSegment()
    {
        var watch = Quiet();
        Feed(watch, 0, 10, cycle: false);
        Feed(watch, 10, 20, cycle: false, job: "B-2");
        watch.Complete();

        Assert.Equal([Segment(0, 10, TimelineState.NotExecuting), Segment(10, 19.5, TimelineState.NotExecuting, job: "B-2")], Taken(watch));
    }

    [Fact]
    public void Push_ALongSegment_IsToldAsFarAsItWasSeen()
    {
        var watch = new StateWatch { Report = TimeSpan.FromSeconds(60) };
        Feed(watch, 0, 200, cycle: true);
        var told = Taken(watch);

        Assert.Equal(3, told.Count);
        Assert.All(told, segment => Assert.Equal(Begin, segment.From));
        Assert.Equal(Begin.AddSeconds(180), told[^1].To);
    }

    [Theory]
    [InlineData(3, 1)]
    [InlineData(600, 3)]
    public void Restore_AfterARestart_GoesOnOrSaysWhatWasNotSeen(int awaySeconds, int segments)
    {
        var first = Quiet();
        Feed(first, 0, 10, cycle: true);
        first.Complete();
        var last = Assert.Single(Taken(first));
        var second = Quiet();
        second.Restore(last);
        Feed(second, 9.5 + awaySeconds, 9.5 + awaySeconds + 10, cycle: true);
        second.Complete();

        var all = Taken(second).Prepend(last).GroupBy(segment => segment.From).Select(same => same.Last()).ToArray();
        Assert.Equal(segments, all.Length);
        for (var i = 1; i < all.Length; i++)
            Assert.Equal(all[i - 1].To, all[i].From);
        if (segments > 1)
            Assert.Equal(TimelineState.Unknown, all[1].State);
    }

    [Fact]
    public void Push_FramesThatComeAgain_ChangeNothing()
    {
        var watch = Quiet();
        Feed(watch, 0, 20, cycle: true);
        watch.Push(Frame(12, cycle: false), CyclePhase.Idle);
        Feed(watch, 20, 30, cycle: true);
        watch.Complete();

        Assert.Equal([Segment(0, 29.5, TimelineState.Executing)], Taken(watch));
    }

    [Fact]
    public void Push_AClockSetBackByYears_GoesOnFromThere()
    {
        var watch = Quiet();
        Feed(watch, 1e8, 1e8 + 10, cycle: true);
        Feed(watch, 0, 20, cycle: false);
        watch.Complete();
        var told = Taken(watch);

        Assert.Equal(TimelineState.NotExecuting, told[^1].State);
        Assert.Equal(Begin.AddSeconds(19.5), told[^1].To);
    }

    // Whatever frames come, in order: the segments that hold meet and never overlap.
    [Fact]
    public void Push_AnyFramesInOrder_MakeSegmentsThatMeet()
    {
        for (var seed = 1; seed <= 50; seed++)
        {
            var random = new Random(seed);
            var watch = new StateWatch { Report = TimeSpan.FromSeconds(random.Next(1, 90)) };
            var t = 0d;
            for (var i = 0; i < 3000; i++)
            {
                t += random.Next(200) == 0 ? random.Next(1, 300) : random.NextDouble();
                var frame = Frame(t, random.Next(40) < 20, fault: random.Next(30) == 0 ? random.Next(3) : null, job: random.Next(50) == 0 ? "B" : "A-1");
                watch.Push(frame, (CyclePhase)random.Next(4), 1);
            }

            watch.Complete();
            var holds = Taken(watch).GroupBy(segment => segment.From).Select(same => same.Last()).ToArray();
            Assert.Equal(Begin.AddSeconds(t).Ticks, holds[^1].To.Ticks);
            for (var i = 1; i < holds.Length; i++)
                Assert.Equal(holds[i - 1].To, holds[i].From);
        }
    }

    [Fact]
    public void Push_InTheSteadyState_AllocatesNothingPerFrame()
    {
        var watch = Quiet();
        Feed(watch, 0, 10, cycle: true, fault: 3);
        var frames = Enumerable.Range(0, 2000).Select(i => Frame(10 + (i * 0.1), cycle: true, fault: 3)).ToArray();
        var allocating = 0;
        foreach (ref readonly var frame in frames.AsSpan())
        {
            var before = GC.GetAllocatedBytesForCurrentThread();
            watch.Push(frame, CyclePhase.Cycle, 1);
            if (GC.GetAllocatedBytesForCurrentThread() != before)
                allocating++;
        }

        // A collection that another test sets off counts the rest of this thread's allocation window as used: once, not per frame.
        Assert.InRange(allocating, 0, 5);
    }

    [Fact]
    public void ScrapWatch_ACounterThatRises_MakesEntries()
    {
        var watch = new ScrapWatch();
        foreach (var (t, value) in new (double, double)[] { (0, 5), (1, 5), (2, 7), (3, 0), (4, 1) })
        {
            var frame = Frame(t, cycle: false);
            frame.Set(Signal.ScrapCount, value);
            watch.Push(frame);
        }

        Assert.True(watch.TryTake(out var first));
        Assert.Equal((2, "A-1", Begin.AddSeconds(2)), (first.Quantity, first.Job, first.At));
        Assert.True(watch.TryTake(out var second));
        Assert.Equal((1, Begin.AddSeconds(4)), (second.Quantity, second.At));
        Assert.False(watch.TryTake(out _));
    }

    private static StateWatch Quiet() => new() { Report = TimeSpan.FromDays(1) };

    private static SignalFrame Frame(double t, bool cycle, bool? blade = null, int? fault = null, string job = "A-1")
    {
        var frame = new SignalFrame(Begin.AddSeconds(t));
        frame.Set(Signal.CycleActive, cycle ? 1 : 0);
        frame.Set(Signal.MotorLoad, 2);
        frame.Set(Signal.Job, job);
        if (blade is { } runs)
            frame.Set(Signal.BladeRunning, runs ? 1 : 0);
        if (fault is { } code)
            frame.Set(Signal.FaultCode, code);
        return frame;
    }

    private static void Feed(StateWatch watch, double from, double to, bool cycle, bool? blade = null, int? fault = null, string job = "A-1")
    {
        for (var t = from; t < to; t += 0.5)
            watch.Push(Frame(t, cycle, blade, fault, job), cycle ? CyclePhase.Cycle : CyclePhase.Idle, 1);
    }

    private static StateSegment Segment(double from, double to, TimelineState state, string reason = "", string job = "A-1") =>
        new(Begin.AddSeconds(from), Begin.AddSeconds(to), state, reason, job);

    private static List<StateSegment> Taken(StateWatch watch)
    {
        var segments = new List<StateSegment>();
        while (watch.TryTake(out var segment))
            segments.Add(segment);
        return segments;
    }
}
