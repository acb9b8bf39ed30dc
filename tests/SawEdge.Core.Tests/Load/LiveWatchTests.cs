using SawEdge.Core.Cutting;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;
using SawEdge.Core.Signals;
using SawEdge.Core.Tests.Cycles;

namespace SawEdge.Core.Tests.Load;

/// <summary>The live watch on movements that are written down: what it must call, and what it must not.</summary>
public sealed class LiveWatchTests
{
    private static readonly Signal[] Few = [Signal.HeadPosition, Signal.MotorLoad, Signal.CycleActive, Signal.Job];
    private static readonly Signal[] Many = [.. Few, Signal.Cutting, Signal.BladeRunning, Signal.PartCount];

    private static SawMachine Machine => new() { Name = "Saw 1", RatedPowerKw = 7.5 };

    private static JobBook Jobs { get; } = JobBook.Parse("job,material,section\nJ-1,S355,rect 120 x 100 mm\n", MaterialCatalogue.BuiltIn).Book;

    [Theory]
    [InlineData(true, 0.1)]
    [InlineData(true, 1)]
    [InlineData(false, 0.1)]
    public void Push_WholeCutsAndAHold_FindsNothing(bool everything, double interval)
    {
        var script = TwoCuts().Cycle(true).Wait(3).Move(105, 3000).Move(100, 60).Feed(60, 60, _ => 4).Wait(20, load: 2).Feed(0, 60, _ => 4).Move(-4, 60).Move(300, 6000).Cycle(false).Wait(8);
        Assert.Empty(Run(script, everything ? Many : Few, interval).Findings);
    }

    // A publisher that was held up sends two frames at once, with times that lie close together.
    [Theory]
    [InlineData(1, 0.05)]
    [InlineData(3, 0.05)]
    [InlineData(3, 0.2)]
    [InlineData(20, 0.2)]
    public void Push_FramesInPairsThatLieCloseTogether_FindsNothing(int apart, double noise)
    {
        var random = new Random(11);
        var script = TwoCuts().FullCut(out _, out _).FullCut(out _, out _);
        var frames = script.Frames(0.001, Few, noise: 0.05, keep: n => n % 200 == 0 || n % 200 == apart).Select(frame =>
        {
            frame.Set(Signal.HeadPosition, frame.Number(Signal.HeadPosition) + (noise * ((2 * random.NextDouble()) - 1)));
            return frame;
        });
        Assert.Empty(Run(frames, Machine).Findings);
    }

    [Fact]
    public void Push_LoadGoneWhileTheHeadGoesOn_IsBladeGoneInWords()
    {
        var script = TwoCuts().Cycle(true).Wait(3).Move(105, 3000).Move(100, 60).Feed(60, 60, _ => 4);
        var gone = script.Now;
        script.Move(50, 60, load: 1.2).Cycle(false).Wait(30).Move(300, 3000).Wait(20);
        var (findings, cuts) = Run(script, Many, 0.1);
        var finding = Assert.Single(findings);
        Assert.Equal(LiveFindingKind.BladeGone, finding.Kind);
        Assert.InRange((finding.At - SawScript.At(gone)).TotalSeconds, 0.2, 0.5);
        Assert.Equal(1.2, finding.Value, 0.2);
        Assert.Equal(2 + (0.15 * 4), finding.Limit, 0.2);
        Assert.Matches(@"^The load fell from [56]\.\d kW to 1\.\d+ kW \(idle\) at 40\.\d mm depth while the head went on 0\.\d mm: the blade may be broken or off its wheels\.$", finding.Words);
        Assert.Equal([finding], cuts[2].Evidence.Findings);
        Assert.Empty(cuts[1].Evidence.Findings);
    }

    [Fact]
    public void Push_LoadHighAndTheHeadStands_IsStallAndOverload()
    {
        var script = TwoCuts().Cycle(true).Wait(3).Move(105, 3000).Move(100, 60).Feed(60, 60, _ => 4);
        var stalled = script.Now;
        script.Wait(5, load: 14).Cycle(false).Wait(30, load: 0).Move(300, 3000).Wait(20);
        var findings = Run(script, Many, 0.1).Findings;
        Assert.Equal([LiveFindingKind.Overload, LiveFindingKind.Stall], findings.Select(finding => finding.Kind).Order());
        Assert.All(findings, finding => Assert.InRange((finding.At - SawScript.At(stalled)).TotalSeconds, 0.05, 0.6));
        Assert.Equal(11.25, findings.Find(finding => finding.Kind == LiveFindingKind.Overload)!.Limit);
    }

    [Fact]
    public void Push_LoadAboveTheStatedMaximum_IsOverloadOnceACycle()
    {
        var script = TwoCuts().FullCut(out _, out _, net: 5).FullCut(out _, out _, net: 5);
        var (findings, _) = Run(script, Many, 0.1, Machine with { MaximumLoadKw = 6.5 });
        Assert.Equal([LiveFindingKind.Overload, LiveFindingKind.Overload], findings.Select(finding => finding.Kind));
        Assert.Equal("The load stood above 6.5 kW for 0.1 s and is at 7.0 kW: the saw is overloaded.", findings[0].Words);
    }

    [Fact]
    public void Push_LoadInAnotherUnit_IsNoOverload()
    {
        var script = new SawScript(idle: 2000).Wait(5).FullCut(out _, out _, net: 4000).FullCut(out _, out _, net: 4000);
        Assert.Empty(Run(script, Few, 0.1).Findings);
    }

    [Fact]
    public void Push_NoStockWhereSomeWasExpected_IsNoContact()
    {
        var script = TwoCuts().Cycle(true).Wait(3).Move(105, 3000).Move(-4, 120).Move(300, 6000).Wait(2).Cycle(false).Wait(8);
        var (findings, cuts) = Run(script, Many, 0.1);
        var finding = Assert.Single(findings);
        Assert.Equal(LiveFindingKind.NoContact, finding.Kind);
        Assert.InRange(finding.Value, 6, 7);
        Assert.Equal([finding], cuts[2].Evidence.Findings);
    }

    [Fact]
    public void Push_LoadStaysBelowTheTable_IsLoadAfterBreakthrough()
    {
        var script = TwoCuts().Cycle(true).Wait(3).Move(105, 3000).Move(100, 60).Feed(-4, 60, _ => 4).Move(300, 6000).Wait(2).Cycle(false).Wait(8);
        var finding = Assert.Single(Run(script, Many, 0.1).Findings);
        Assert.Equal(LiveFindingKind.LoadAfterBreakthrough, finding.Kind);
    }

    [Fact]
    public void Push_LoadThatNeverScattered_MayStand() =>
        Assert.Empty(Run(TwoCuts().FullCut(out _, out _, feed: 20), Many, 0.1, noise: 0).Findings);

    [Fact]
    public void Push_FrozenLoad_IsFoundAfterThreeSeconds()
    {
        var script = TwoCuts().FullCut(out var contact, out _, feed: 60);
        var frames = script.Frames(0.1, Many, noise: 0.05).Select(frame =>
        {
            if (frame.Time > SawScript.At(contact + 40))
                frame.Set(Signal.MotorLoad, 6.013);
            return frame;
        });
        var finding = Assert.Single(Run(frames, Machine).Findings);
        Assert.Equal(LiveFindingKind.FrozenSignal, finding.Kind);
        Assert.InRange((finding.At - SawScript.At(contact + 40)).TotalSeconds, 3, 3.2);
        Assert.StartsWith("The load has read exactly 6.013 kW for 3.0 s (31 frames) in the cut", finding.Words, StringComparison.Ordinal);
    }

    [Fact]
    public void Push_UnknownSection_TubeIsNoBladeGoneAndABreakIsOnceItIsKnown()
    {
        // Load falls to nearly idle in the middle: a tube that nobody described. Then a bar with load all the way.
        var tube = new SawScript().Job("?").Wait(5);
        for (var i = 0; i < 4; i++)
            tube.Cycle(true).Wait(3).Move(105, 3000).Move(100, 60).Feed(90, 60, _ => 4).Feed(10, 60, _ => 0.2).Feed(0, 60, _ => 4).Move(-4, 60).CountUp().Move(300, 6000).Wait(2).Cycle(false).Wait(8);
        Assert.Empty(Run(tube, Few, 0.1).Findings);

        var bar = new SawScript().Job("?").Wait(5).FullCut(out _, out _).FullCut(out _, out _).FullCut(out _, out _)
            .Cycle(true).Wait(3).Move(105, 3000).Move(100, 60).Feed(60, 60, _ => 4).Move(50, 60, load: 2).Cycle(false).Wait(30).Move(300, 3000).Wait(20);
        Assert.Equal(LiveFindingKind.BladeGone, Assert.Single(Run(bar, Few, 0.1).Findings).Kind);
    }

    [Fact]
    public void Push_DuplicatesStragglersAndGaps_ChangeNothing()
    {
        var script = TwoCuts().FullCut(out _, out _);
        var frames = script.Frames(0.1, Many, noise: 0.05).ToList();
        var messy = new List<SignalFrame>();
        for (var i = 0; i < frames.Count; i++)
        {
            if (i % 400 is > 100 and < 170)
                continue;
            messy.Add(frames[i]);
            if (i % 3 == 0)
                messy.Add(frames[i]);
            if (i % 50 == 0 && i > 5)
                messy.AddRange(frames.GetRange(i - 5, 4));
        }

        Assert.Empty(Run(messy, Machine).Findings);

        // And to the watch itself, without the detector before it.
        var watch = new LiveWatch(Machine);
        foreach (var frame in messy)
            watch.Push(frame, new LiveContext(1, 2, 0, "J-1", Jobs.Find("J-1")));
        Assert.False(watch.TryTake(out _));
    }

    [Fact]
    public void Push_SignalsMissing_FindsNothing()
    {
        foreach (var missing in Many)
            Assert.DoesNotContain(Run(TwoCuts().FullCut(out _, out _), [.. Many.Where(signal => signal != missing)], 0.1).Findings, finding => finding.Kind != LiveFindingKind.Overload);
    }

    [Fact]
    public void Restore_InTheMiddleOfACut_FindsTheSameOnceInTheEvidence()
    {
        var script = TwoCuts().Cycle(true).Wait(3).Move(105, 3000).Move(100, 60).Feed(60, 60, _ => 4);
        var gone = script.Now;
        script.Move(50, 60, load: 1.2).Cycle(false).Wait(30).Move(300, 3000).Wait(20);
        var frames = script.Frames(0.1, Many, noise: 0.05).ToList();
        var whole = Run(frames, Machine);

        // As the gateway does: the memory is that of when the cycle opened, the frames are all since then.
        var first = new SawPipeline(Machine, Jobs);
        PipelineMemory? memory = null;
        var stop = frames.FindIndex(frame => frame.Time > SawScript.At(gone + 2));
        var found = 0;
        for (var i = 0; i < stop; i++)
        {
            first.Push(frames[i]);
            while (first.TryTake(out _))
            {
            }

            while (first.TryTakeFinding(out _))
                found++;
            if (!first.HasOpenEnds)
                memory = first.Save();
        }

        Assert.Equal(1, found);
        var second = new SawPipeline(Machine, Jobs);
        second.Restore(memory!);
        var (findings, cuts) = Run(second, second.NotHandedOut(frames));
        Assert.Equal(whole.Findings, findings);
        Assert.Equal(whole.Findings, Assert.Single(cuts).Evidence.Findings);
    }

    [Fact]
    public void Save_AndRestore_KeepWhatWasLearnedOfJobs()
    {
        var watch = new LiveWatch(Machine);
        var memory = new LiveWatchMemory { LoadScatters = true, Jobs = [new JobLoad("?", 2, 0.7)] };
        watch.Restore(memory);
        Assert.Equal(memory.Jobs, watch.Save().Jobs);
        Assert.True(watch.Save().LoadScatters);
    }

    [Fact]
    public void Push_InACut_AllocatesNothingPerFrame()
    {
        var script = TwoCuts().FullCut(out var contact, out var through, feed: 30);
        var frames = script.Frames(0.1, Many, noise: 0.05).Where(frame => frame.Time > SawScript.At(contact - 6) && frame.Time < SawScript.At(through + 2)).ToArray();
        var watch = new LiveWatch(Machine);
        var context = new LiveContext(1, 2, 0, "J-1", Jobs.Find("J-1"));
        watch.Push(frames[0], context);
        var allocating = 0;
        foreach (var frame in frames)
        {
            var before = GC.GetAllocatedBytesForCurrentThread();
            watch.Push(frame, context);
            allocating += GC.GetAllocatedBytesForCurrentThread() != before ? 1 : 0;
        }

        // A collection that another test sets off counts the rest of this thread's allocation window as used: once, not per frame.
        Assert.InRange(allocating, 0, 5);
        Assert.True(frames.Length > 1900);
        Assert.False(watch.TryTake(out _));
    }

    private static SawScript TwoCuts() => new SawScript().Wait(5).FullCut(out _, out _).FullCut(out _, out _);

    private static (List<LiveFinding> Findings, List<FinishedCut> Cuts) Run(SawScript script, Signal[] signals, double interval, SawMachine? machine = null, double noise = 0.05) =>
        Run(script.Frames(interval, signals, noise: noise), machine ?? Machine);

    private static (List<LiveFinding> Findings, List<FinishedCut> Cuts) Run(IEnumerable<SignalFrame> frames, SawMachine machine) => Run(new SawPipeline(machine, Jobs), frames);

    private static (List<LiveFinding> Findings, List<FinishedCut> Cuts) Run(SawPipeline pipeline, IEnumerable<SignalFrame> frames)
    {
        var (findings, cuts) = (new List<LiveFinding>(), new List<FinishedCut>());
        foreach (var frame in frames)
        {
            pipeline.Push(frame);
            while (pipeline.TryTakeFinding(out var finding))
                findings.Add(finding);
            while (pipeline.TryTake(out var cut))
                cuts.Add(cut);
        }

        pipeline.Complete();
        while (pipeline.TryTake(out var cut))
            cuts.Add(cut);
        return (findings, cuts);
    }
}
