using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Tests.Cycles;

public sealed class CycleDetectorTests
{
    private static readonly Signal[] Everything = [Signal.HeadPosition, Signal.MotorLoad, Signal.CycleActive, Signal.Cutting, Signal.BladeRunning, Signal.FaultCode, Signal.PartCount, Signal.Job];
    private static readonly Signal[] HeadAndLoad = [Signal.HeadPosition, Signal.MotorLoad];
    private static readonly Signal[] CycleAndLoad = [Signal.CycleActive, Signal.MotorLoad];
    private static readonly Signal[] CuttingAndLoad = [Signal.Cutting, Signal.MotorLoad];

    public static TheoryData<string, double, double> Samplings()
    {
        var data = new TheoryData<string, double, double>();
        foreach (var set in new[] { "everything", "head+load", "cycle+load", "cutting+load", "cycle+head+load", "cycle+cutting" })
        {
            foreach (var interval in new[] { 0.05, 0.1, 0.25, 0.5, 1.0, 2.0 })
            {
                foreach (var noise in new[] { 0.0, 0.15 })
                    data.Add(set, interval, noise);
            }
        }

        return data;
    }

    [Theory]
    [MemberData(nameof(Samplings))]
    public void Push_ThreeFullCuts_ContactAndBreakthroughWithinAFrame(string set, double interval, double noise)
    {
        var script = new SawScript();
        script.Wait(20);
        script.FullCut(out var contact1, out var through1).FullCut(out var contact2, out var through2, stock: 60).FullCut(out var contact3, out var through3, feed: 30);

        if (set == "cycle+cutting")
        {
            // Here the bit is all there is: it rises 5 mm above the stock and falls 4 mm below it.
            (contact1, contact2, contact3) = (contact1 - 5, contact2 - 5, contact3 - 10);
            (through1, through2, through3) = (through1 + 4, through2 + 4, through3 + 8);
        }

        foreach (var offset in new[] { 0.0, 0.37 * interval, 0.81 * interval })
        {
            var cuts = SawScript.Detect(script.Frames(interval, SignalsOf(set), offset, noise));

            Assert.Equal(3, cuts.Count);
            AssertTimes(cuts[0], contact1, through1, interval);
            AssertTimes(cuts[1], contact2, through2, interval);
            AssertTimes(cuts[2], contact3, through3, interval);
            Assert.All(cuts, cut => Assert.Equal(CutOutcome.Completed, cut.Outcome));
            Assert.All(cuts, cut => Assert.Empty(cut.Notes));
            Assert.All(cuts, cut => Assert.InRange(cut.Coverage, 0.9, 1));
        }
    }

    [Theory]
    [InlineData("everything")]
    [InlineData("head+load")]
    [InlineData("cycle+load")]
    public void Push_JobsAtOtherBladeSpeeds_TheIdleLoadOfOneIsNotThatOfTheNext(string set)
    {
        var script = new SawScript().Wait(20);
        var ends = new List<(double Contact, double Through)>();
        foreach (var idle in new[] { 1, 1, 1, 2.3, 2.3, 2.3, 1, 1 })
        {
            script.IdleAt(idle).Wait(10).FullCut(out var contact, out var through, net: 0.9);
            ends.Add((contact, through));
        }

        var cuts = SawScript.Detect(script.Frames(0.1, SignalsOf(set), noise: 0.03));
        Assert.Equal(8, cuts.Count);
        for (var i = 0; i < 8; i++)
            AssertTimes(cuts[i], ends[i].Contact, ends[i].Through, 0.1);
        Assert.All(cuts, cut => Assert.Equal(CutOutcome.Completed, cut.Outcome));
    }

    [Fact]
    public void Push_CycleBit_TimesTheCycle()
    {
        var script = new SawScript().Wait(10).FullCut(out _, out _);
        var cut = Assert.Single(SawScript.Detect(script.Frames(0.1, Everything)));
        Assert.Equal(10, (cut.StartedAt - SawScript.Epoch).TotalSeconds, 0.11);
        Assert.Equal(script.Now - 8, (cut.EndedAt - SawScript.Epoch).TotalSeconds, 0.11);
    }

    [Fact]
    public void Push_FullCut_FiguresFollowFromTheSignals()
    {
        var script = new SawScript(idle: 2).Wait(10).FullCut(out var contact, out var through, stock: 100, feed: 60, net: 4);
        var cut = Assert.Single(SawScript.Detect(script.Frames(0.1, Everything)));

        Assert.Equal(2, cut.IdleLoadKw, 0.01);
        Assert.Equal(6, cut.MeanLoadKw, 0.05);
        Assert.Equal(6, cut.PeakLoadKw, 0.01);
        Assert.Equal(4 * (through - contact), cut.EnergyKj, 0.5);
        Assert.Equal(100, cut.DepthMm, 0.3);
        Assert.Equal("J-1", cut.Job);
        Assert.Equal(1, cut.PartCount);
        Assert.NotNull(cut.Profile);
        Assert.Equal(ProfileBasis.Depth, cut.Profile.Basis);
        Assert.Equal(through - contact, cut.Profile.Seconds.Sum(s => (double)s), 0.1);
        Assert.All(cut.Profile.MeanLoadKw, kw => Assert.Equal(6, kw, 0.05));
        Assert.All(cut.Profile.Seconds, s => Assert.Equal((through - contact) / DepthProfile.DefaultBins, s, 0.12));
    }

    [Theory]
    [InlineData("everything")]
    [InlineData("head+load")]
    [InlineData("cycle+head+load")]
    public void Push_FeedHold_DoesNotEndTheCutAndIsNoted(string set)
    {
        var script = new SawScript().Wait(5).Cycle(true).Wait(3).Move(105, 3000).Cutting(true).Move(100, 60);
        var contact = script.Now;
        script.Feed(50, 60, _ => 4).Cutting(false).Wait(25, load: 2).Cutting(true).Feed(0, 60, _ => 4);
        var through = script.Now;
        script.Move(-4, 60).Cutting(false).CountUp().Move(300, 6000).Wait(1).Cycle(false).Wait(10);

        var cut = Assert.Single(SawScript.Detect(script.Frames(0.1, SignalsOf(set))));
        Assert.Equal(CutOutcome.Completed, cut.Outcome);
        AssertTimes(cut, contact, through, 0.1);
        Assert.Equal(25, cut.HoldSeconds, 0.4);
        Assert.Contains(cut.Notes, note => note.StartsWith("feed hold 2", StringComparison.Ordinal));
    }

    [Fact]
    public void Push_CycleBitFallsInStockAndRises_IsOneCut()
    {
        var script = new SawScript().Wait(5).Cycle(true).Wait(3).Move(105, 3000).Move(100, 60);
        var contact = script.Now;
        script.Feed(50, 60, _ => 4).Cycle(false).Wait(40, load: 2).Cycle(true).Feed(0, 60, _ => 4);
        var through = script.Now;
        script.Move(-4, 60).Move(300, 6000).Wait(1).Cycle(false).Wait(10);

        var cut = Assert.Single(SawScript.Detect(script.Frames(0.2, [Signal.CycleActive, Signal.HeadPosition, Signal.MotorLoad])));
        Assert.Equal(CutOutcome.Completed, cut.Outcome);
        AssertTimes(cut, contact, through, 0.2);
    }

    [Fact]
    public void Push_EmergencyStopInStock_IsAborted()
    {
        var script = new SawScript().Wait(5).FullCut(out _, out _).Cycle(true).Wait(3).Move(105, 3000).Cutting(true).Move(100, 60);
        script.Feed(40, 60, _ => 4);
        var stop = script.Now;
        script.Blade(false).Cutting(false).Cycle(false).Fault(17).Wait(60).Move(300, 600).Fault(0).Blade(true).Wait(20).FullCut(out _, out _);

        var cuts = SawScript.Detect(script.Frames(0.1, Everything));
        Assert.Equal([CutOutcome.Completed, CutOutcome.Aborted, CutOutcome.Completed], cuts.Select(cut => cut.Outcome));
        Assert.Equal(17, cuts[1].FaultCode);
        Assert.Contains("fault code 17", cuts[1].Notes);
        Assert.Equal(stop, (cuts[1].CutEndedAt!.Value - SawScript.Epoch).TotalSeconds, 0.2);
    }

    [Fact]
    public void Push_OrderlyRetractAboveTheTable_IsPartial()
    {
        var script = new SawScript().Wait(5).FullCut(out _, out _).Cycle(true).Wait(3).Move(105, 3000).Cutting(true).Move(100, 60);
        script.Feed(40, 60, _ => 4).Cutting(false).Move(300, 3000).Wait(2).Cycle(false).Wait(20);

        var cuts = SawScript.Detect(script.Frames(0.1, Everything));
        Assert.Equal([CutOutcome.Completed, CutOutcome.Partial], cuts.Select(cut => cut.Outcome));
        Assert.Equal(60, cuts[1].DepthMm, 0.5);
    }

    [Fact]
    public void Push_CounterDoesNotCountAFullCut_IsTrim()
    {
        var script = new SawScript().Wait(5).FullCut(out _, out _, counts: false).FullCut(out _, out _).FullCut(out _, out _).FullCut(out _, out _, counts: false).FullCut(out _, out _);
        var cuts = SawScript.Detect(script.Frames(0.1, Everything));
        Assert.Equal([CutOutcome.Trim, CutOutcome.Completed, CutOutcome.Completed, CutOutcome.Trim, CutOutcome.Completed], cuts.Select(cut => cut.Outcome));
    }

    [Fact]
    public void Push_CounterCountsLate_IsStillThatCut()
    {
        var script = new SawScript().Wait(5).FullCut(out _, out _, counts: false).CountUp().Wait(1).FullCut(out _, out _, counts: false).Wait(10).FullCut(out _, out _);
        // The eight seconds after a cycle end after the counter's patience; here it counts 3 s after.
        var late = new SawScript().Wait(5);
        late.Cycle(true).Wait(3).Move(100, 3000).Feed(0, 60, _ => 4).Move(-3, 60).Move(300, 6000).Cycle(false).Wait(3).CountUp().Wait(10);
        Assert.Equal(CutOutcome.Completed, Assert.Single(SawScript.Detect(late.Frames(0.1, Everything))).Outcome);
        Assert.Equal([CutOutcome.Trim, CutOutcome.Trim, CutOutcome.Completed], SawScript.Detect(script.Frames(0.1, Everything)).Select(cut => cut.Outcome));
    }

    [Fact]
    public void Push_CounterThatNeverCounts_IsNotBelievedForever()
    {
        var script = new SawScript().Wait(5);
        for (var i = 0; i < 5; i++)
            script.FullCut(out _, out _, counts: false);
        var outcomes = SawScript.Detect(script.Frames(0.1, Everything)).Select(cut => cut.Outcome).ToList();
        Assert.Equal(5, outcomes.Count);
        Assert.Equal([CutOutcome.Completed, CutOutcome.Completed, CutOutcome.Completed], outcomes[2..]);
    }

    [Fact]
    public void Push_CycleBitSpansManyCuts_EachIsACycle()
    {
        var script = new SawScript().Wait(5).Cycle(true).Wait(5);
        var truth = new List<(double Contact, double Through)>();
        for (var i = 0; i < 3; i++)
        {
            script.Wait(6).Move(105, 3000).Cutting(true).Move(100, 60);
            var contact = script.Now;
            script.Feed(0, 60, _ => 4);
            truth.Add((contact, script.Now));
            script.Move(-4, 60).Cutting(false).CountUp().Move(200, 6000);
        }

        script.Wait(5).Cycle(false).Wait(10);
        foreach (var set in new[] { "everything", "cycle+head+load", "cycle+cutting+load+count" })
        {
            var cuts = SawScript.Detect(script.Frames(0.1, SignalsOf(set)));
            Assert.Equal(3, cuts.Count);
            for (var i = 0; i < 3; i++)
                AssertTimes(cuts[i], truth[i].Contact, truth[i].Through, 0.1);
            Assert.Equal(cuts[0].EndedAt, cuts[1].StartedAt);
            Assert.Equal(cuts[1].EndedAt, cuts[2].StartedAt);
        }
    }

    [Fact]
    public void Push_CycleBitSpansManyCutsWithLoadAlone_LikeStretchesArePartedAndAHoldIsNot()
    {
        var script = new SawScript().Wait(5).Cycle(true).Wait(5);
        var truth = new List<(double Contact, double Through)>();
        for (var i = 0; i < 6; i++)
        {
            script.Wait(6).Move(100, 3000);
            var contact = script.Now;
            if (i == 4)
                script.Feed(40, 60, _ => 4).Wait(20, load: 2).Feed(0, 60, _ => 4);
            else
                script.Feed(0, 60, _ => 4);
            truth.Add((contact, script.Now));
            script.Move(-4, 60).Move(200, 6000);
        }

        script.Wait(5).Cycle(false).Wait(10);
        var cuts = SawScript.Detect(script.Frames(0.1, CycleAndLoad));
        Assert.Equal(6, cuts.Count);
        for (var i = 0; i < 6; i++)
            AssertTimes(cuts[i], truth[i].Contact, truth[i].Through, 0.1);
        Assert.Equal(20, cuts[4].HoldSeconds, 0.3);
    }

    [Fact]
    public void Push_BladeGoneInTheStock_IsAbortedWithTheReason()
    {
        var script = new SawScript().Wait(5).FullCut(out _, out _).Cycle(true).Wait(3).Move(105, 3000).Cutting(true).Move(100, 60);
        script.Feed(55, 60, _ => 4).Move(-4, 120, load: 1.2).Cutting(false).Move(300, 3000).Cycle(false).Wait(20);
        var cuts = SawScript.Detect(script.Frames(0.1, HeadAndLoad));
        Assert.Equal([CutOutcome.Completed, CutOutcome.Aborted], cuts.Select(cut => cut.Outcome));
        Assert.Contains(cuts[1].Notes, note => note.Contains("55 mm above the table", StringComparison.Ordinal));
    }

    [Fact]
    public void Push_FirstFrameLiesInTheStock_IsUnobservedStart()
    {
        var script = new SawScript().Wait(5).FullCut(out var contact, out var through).FullCut(out _, out _);
        var cuts = SawScript.Detect(script.Frames(0.1, Everything, offset: contact + 20));
        Assert.Equal(2, cuts.Count);
        Assert.Equal(CutOutcome.UnobservedStart, cuts[0].Outcome);
        Assert.Null(cuts[0].CutStartedAt);
        Assert.Equal(through, (cuts[0].CutEndedAt!.Value - SawScript.Epoch).TotalSeconds, 0.1);
        Assert.Equal(CutOutcome.Completed, cuts[1].Outcome);
    }

    [Fact]
    public void Complete_InTheCut_IsUnobservedEnd()
    {
        var script = new SawScript().Wait(5).FullCut(out var contact, out _);
        var cuts = SawScript.Detect(script.Frames(0.1, Everything).TakeWhile(frame => frame.Time < SawScript.At(contact + 30)));
        var cut = Assert.Single(cuts);
        Assert.Equal(CutOutcome.UnobservedEnd, cut.Outcome);
        Assert.NotNull(cut.CutStartedAt);
        Assert.Null(cut.CutEndedAt);
    }

    [Fact]
    public void Push_GapOverTheEnd_CounterRose_IsUnobservedEnd()
    {
        var script = new SawScript().Wait(5).FullCut(out _, out _).FullCut(out var contact, out var through).FullCut(out _, out _);
        var cuts = SawScript.Detect(script.Frames(0.1, Everything).Where(frame => frame.Time < SawScript.At(contact + 60) || frame.Time > SawScript.At(through + 12)));
        Assert.Equal([CutOutcome.Completed, CutOutcome.UnobservedEnd, CutOutcome.Completed], cuts.Select(cut => cut.Outcome));
    }

    [Fact]
    public void Push_GapAndTheCutWasLeft_CounterStood_IsInterrupted()
    {
        var script = new SawScript().Wait(5).FullCut(out _, out _).Cycle(true).Wait(3).Move(105, 3000).Cutting(true).Move(100, 60);
        var contact = script.Now;
        script.Feed(40, 60, _ => 4).Cutting(false).Cycle(false).Wait(60).Move(300, 6000).Wait(60).FullCut(out _, out _);
        var cuts = SawScript.Detect(script.Frames(0.1, Everything).Where(frame => frame.Time < SawScript.At(contact + 30) || frame.Time > SawScript.At(contact + 150)));
        Assert.Equal([CutOutcome.Completed, CutOutcome.Interrupted, CutOutcome.Completed], cuts.Select(cut => cut.Outcome));
    }

    [Fact]
    public void Push_GapInsideTheCut_IsOneCutWithItsCoverage()
    {
        var script = new SawScript().Wait(5).FullCut(out var contact, out var through);
        var cuts = SawScript.Detect(script.Frames(0.1, Everything).Where(frame => frame.Time < SawScript.At(contact + 30) || frame.Time > SawScript.At(contact + 60)));
        var cut = Assert.Single(cuts);
        Assert.Equal(CutOutcome.Completed, cut.Outcome);
        AssertTimes(cut, contact, through, 0.1);
        Assert.Equal(0.7, cut.Coverage, 0.02);
        Assert.Equal(double.NaN, cut.EnergyKj);
    }

    [Theory]
    [InlineData(0.3)]
    [InlineData(0.6)]
    public void Push_FramesMissingAtRandom_StillOneCut(double missing)
    {
        var random = new Random(3);
        var script = new SawScript().Wait(5).FullCut(out var contact, out var through).FullCut(out _, out _);
        var cuts = SawScript.Detect(script.Frames(0.1, Everything, noise: 0.1, keep: _ => random.NextDouble() >= missing));
        Assert.Equal([CutOutcome.Completed, CutOutcome.Completed], cuts.Select(cut => cut.Outcome));
        AssertTimes(cuts[0], contact, through, 0.5);
    }

    [Fact]
    public void Push_DuplicatesAndStragglers_ChangeNothing()
    {
        var script = new SawScript().Wait(5).FullCut(out _, out _).FullCut(out _, out _);
        var frames = script.Frames(0.1, Everything, noise: 0.1).ToList();
        var disturbed = new List<SignalFrame>();
        for (var i = 0; i < frames.Count; i++)
        {
            disturbed.Add(frames[i]);
            if (i % 7 == 0)
                disturbed.Add(frames[i]);
            if (i % 50 == 49)
                disturbed.AddRange(frames[(i - 20)..(i - 10)]);
        }

        Assert.Equal(Describe(SawScript.Detect(frames)), Describe(SawScript.Detect(disturbed)));
    }

    [Fact]
    public void Push_ClockSetBackInTheCut_NeitherSplitsNorShortens()
    {
        var script = new SawScript().Wait(5).FullCut(out var contact, out var through).FullCut(out _, out _);
        var frames = script.Frames(0.1, Everything, noise: 0.05).Select(frame =>
        {
            if (frame.Time > SawScript.At(contact + 40))
                frame.Time -= TimeSpan.FromHours(1);
            return frame;
        });
        var cuts = SawScript.Detect(frames);
        Assert.Equal([CutOutcome.Completed, CutOutcome.Completed], cuts.Select(cut => cut.Outcome));
        Assert.Equal(through - contact, (cuts[0].CutEndedAt!.Value - cuts[0].CutStartedAt!.Value).TotalSeconds, 0.2);
        Assert.Contains(cuts[0].Notes, note => note.StartsWith("the clock of the frames was set back 3600.0 s", StringComparison.Ordinal));
        Assert.Empty(cuts[1].Notes);
    }

    [Fact]
    public void Push_HeadGlitches_DoNotEndTheCut()
    {
        var script = new SawScript().Wait(5).FullCut(out var contact, out var through);
        var n = 0;
        var frames = script.Frames(0.1, HeadAndLoad).Select(frame =>
        {
            if (++n % 97 == 0)
                frame.Set(Signal.HeadPosition, n % 2 == 0 ? 6553.5 : 0);
            return frame;
        });
        var cut = Assert.Single(SawScript.Detect(frames));
        AssertTimes(cut, contact, through, 0.2);
    }

    [Fact]
    public void Push_RoundStockAtConstantDescent_EndsAreFoundOnItsShallowFlanks()
    {
        var script = new SawScript().Wait(5).Cycle(true).Wait(3).Move(105, 3000).Move(100, 40);
        var contact = script.Now;
        script.Feed(0, 40, share => 5 * 2 * Math.Sqrt(share * (1 - share)));
        var through = script.Now;
        script.Move(-4, 40).Move(300, 6000).Cycle(false).Wait(10);
        var cut = Assert.Single(SawScript.Detect(script.Frames(0.1, HeadAndLoad, noise: 0.05)));

        // The first and last tenths of a millimetre hardly load the blade: 0.4 % of the cut at each end is what can be had.
        Assert.Equal(contact, (cut.CutStartedAt!.Value - SawScript.Epoch).TotalSeconds, 0.6);
        Assert.Equal(through, (cut.CutEndedAt!.Value - SawScript.Epoch).TotalSeconds, 0.6);
    }

    [Fact]
    public void Push_BundleWithAirBetweenRows_IsOneCut()
    {
        var script = new SawScript().Wait(5).Cycle(true).Wait(3).Move(105, 3000).Move(100, 60);
        var contact = script.Now;
        script.Feed(52, 60, _ => 4).Move(48, 60, load: 2).Feed(0, 60, _ => 4);
        var through = script.Now;
        script.Move(-4, 60).Move(300, 6000).Cycle(false).Wait(10);
        var cut = Assert.Single(SawScript.Detect(script.Frames(0.1, Everything)));
        AssertTimes(cut, contact, through, 0.1);
        Assert.Equal(0, cut.HoldSeconds);
    }

    [Fact]
    public void Push_MovesWithoutCut_RecordNothing()
    {
        var script = new SawScript().Wait(10).Move(150, 3000).Wait(20).Move(300, 3000).Wait(400).Move(290, 5).Wait(900).Move(300, 100).Wait(60);
        Assert.Empty(SawScript.Detect(script.Frames(0.5, HeadAndLoad)));
    }

    [Fact]
    public void Push_HeadReadTenTimesLessOftenThanLoad_IsUsedAllTheSame()
    {
        var script = new SawScript().Wait(5).FullCut(out var contact, out var through).FullCut(out _, out _);
        var n = 0;
        var frames = script.Frames(0.1, HeadAndLoad).Select(frame =>
        {
            if (n++ % 10 != 0)
                frame.Mark(Signal.HeadPosition, SignalQuality.NotRead);
            return frame;
        });
        var cuts = SawScript.Detect(frames);
        Assert.Equal([CutOutcome.Completed, CutOutcome.Completed], cuts.Select(cut => cut.Outcome));
        AssertTimes(cuts[0], contact, through, 0.1);
        Assert.Equal(100, cuts[0].DepthMm, 1.0);
    }

    [Fact]
    public void Push_LoadReadTenTimesLessOftenThanBits_IsUsedAllTheSame()
    {
        var script = new SawScript().Wait(5).FullCut(out var contact, out var through);
        var n = 0;
        var frames = script.Frames(0.1, Everything).Select(frame =>
        {
            if (n++ % 10 != 0)
                frame.Mark(Signal.MotorLoad, SignalQuality.NotRead);
            return frame;
        });
        AssertTimes(Assert.Single(SawScript.Detect(frames)), contact, through, 1);
    }

    [Fact]
    public void Push_FramesSeldomButEven_AreNoGaps()
    {
        var script = new SawScript().Wait(120).FullCut(out var contact, out var through, feed: 10).FullCut(out _, out _, feed: 10);
        var cuts = SawScript.Detect(script.Frames(8, Everything));
        Assert.Equal([CutOutcome.Completed, CutOutcome.Completed], cuts.Select(cut => cut.Outcome));
        AssertTimes(cuts[0], contact, through, 8);
    }

    [Fact]
    public void Push_LoadNeverChanges_BitsStandIn()
    {
        var script = new SawScript().Wait(5).FullCut(out _, out _).FullCut(out var contact, out var through);
        var frames = script.Frames(0.1, Everything).Select(frame =>
        {
            frame.Set(Signal.MotorLoad, 2.5);
            return frame;
        });
        var cuts = SawScript.Detect(frames);
        Assert.Equal([CutOutcome.Completed, CutOutcome.Completed], cuts.Select(cut => cut.Outcome));
        Assert.All(cuts, cut => Assert.DoesNotContain("load", cut.Basis, StringComparison.Ordinal));

        // The bit rises 5 mm above the stock and falls 4 mm below it, at 1 mm/s; the head finds the table.
        Assert.Equal(contact - 5, (cuts[1].CutStartedAt!.Value - SawScript.Epoch).TotalSeconds, 0.2);
        Assert.InRange((cuts[1].CutEndedAt!.Value - SawScript.Epoch).TotalSeconds, through - 0.1, through + 4.1);
    }

    [Fact]
    public void Push_LoadFreezesInTheCut_HeadFindsTheEnd()
    {
        var script = new SawScript().Wait(5).FullCut(out _, out _).FullCut(out var contact, out var through);
        var frames = script.Frames(0.1, Everything, noise: 0.05).Select(frame =>
        {
            if (frame.Time > SawScript.At(contact + 50))
                frame.Set(Signal.MotorLoad, 6.01);
            return frame;
        });
        var cuts = SawScript.Detect(frames);
        Assert.Equal([CutOutcome.Completed, CutOutcome.Completed], cuts.Select(cut => cut.Outcome));
        AssertTimes(cuts[1], contact, through, 0.2);
    }

    [Fact]
    public void Push_CycleBitFallsWithTheCut_EndIsSeen()
    {
        var script = new SawScript().Wait(5);
        for (var i = 0; i < 2; i++)
            script.Cycle(true).Wait(3).Move(100, 3000).Feed(0, 60, _ => 4).CountUp().Cycle(false).Move(-3, 60).Move(300, 6000).Wait(10);
        foreach (var set in new[] { "everything", "cycle+load", "cycle+head+load" })
        {
            var cuts = SawScript.Detect(script.Frames(0.1, SignalsOf(set)));
            Assert.Equal([CutOutcome.Completed, CutOutcome.Completed], cuts.Select(cut => cut.Outcome));
            Assert.All(cuts, cut => Assert.Equal(100, (cut.CutEndedAt!.Value - cut.CutStartedAt!.Value).TotalSeconds, 0.3));
        }
    }

    [Fact]
    public void Push_CounterRollsOver_HasCounted()
    {
        var script = new SawScript().Count(65_535).Wait(5).FullCut(out _, out _, counts: false).Wait(1);
        var rolled = new SawScript().Count(65_534).Wait(5).FullCut(out _, out _).Cycle(true).Wait(3).Move(100, 3000).Cutting(true).Feed(0, 60, _ => 4).Cutting(false).Count(0).Move(-4, 60).Move(300, 6000).Cycle(false).Wait(10);
        Assert.Equal([CutOutcome.Trim], SawScript.Detect(script.Frames(0.1, Everything)).Select(cut => cut.Outcome));
        Assert.Equal([CutOutcome.Completed, CutOutcome.Completed], SawScript.Detect(rolled.Frames(0.1, Everything)).Select(cut => cut.Outcome));
    }

    [Fact]
    public void Push_AutomaticCycleWithoutStock_IsAbortedAndSaysSo()
    {
        var script = new SawScript().Wait(5).FullCut(out _, out _).Cycle(true).Wait(3).Move(105, 3000).Cutting(true).Move(-4, 60).Cutting(false).Move(300, 3000).Cycle(false).Wait(10);
        var cuts = SawScript.Detect(script.Frames(0.1, Everything, noise: 0.1));
        Assert.Equal([CutOutcome.Completed, CutOutcome.Aborted], cuts.Select(cut => cut.Outcome));
        Assert.Contains("no contact with stock was seen", cuts[1].Notes);
    }

    [Fact]
    public void Push_NewJobIsLoadedBeforeTheCycleEnds_BelongsToTheNext()
    {
        var script = new SawScript().Wait(5).Cycle(true).Wait(3).Move(100, 3000).Cutting(true).Feed(0, 60, _ => 4).Job("J-2").Move(-4, 60).Cutting(false).Move(300, 3000).Cycle(false).Wait(10).FullCut(out _, out _);
        Assert.Equal(["J-1", "J-2"], SawScript.Detect(script.Frames(0.1, Everything)).Select(cut => cut.Job));
    }

    [Fact]
    public void Restore_AfterSaveWithTheOpenFramesFedAgain_GivesTheSameCut()
    {
        var script = new SawScript().Wait(5).FullCut(out _, out _).FullCut(out var contact, out _);
        var frames = script.Frames(0.1, Everything, noise: 0.1).ToList();
        var whole = SawScript.Detect(frames);

        var first = new CycleDetector();
        var memory = first.Save();
        var since = new List<SignalFrame>();
        var cuts = new List<Cut>();
        var index = 0;
        for (; frames[index].Time < SawScript.At(contact + 30); index++)
        {
            first.Push(frames[index]);
            since.Add(frames[index]);
            while (first.TryTake(out var cut))
                cuts.Add(cut);
            if (!first.HasOpenEnds)
            {
                memory = first.Save();
                since.Clear();
                since.Add(frames[index]);
            }
        }

        var second = new CycleDetector();
        second.Restore(memory);
        cuts.AddRange(SawScript.Detect(since.Concat(frames.Skip(index)), second));
        Assert.Equal(Describe(whole), Describe(cuts));
    }

    private static IEnumerable<string> Describe(IEnumerable<Cut> cuts) =>
        cuts.Select(cut => FormattableString.Invariant($"{cut.StartedAt:O} {cut.CutStartedAt:O} {cut.CutEndedAt:O} {cut.EndedAt:O} {cut.Outcome} {cut.Job} {cut.PartCount} {cut.MeanLoadKw:R} {cut.EnergyKj:R} {cut.Frames} {cut.Coverage:R} {string.Join(';', cut.Notes)}"));

    private static void AssertTimes(Cut cut, double contact, double through, double interval)
    {
        Assert.NotNull(cut.CutStartedAt);
        Assert.NotNull(cut.CutEndedAt);
        Assert.Equal(contact, (cut.CutStartedAt.Value - SawScript.Epoch).TotalSeconds, interval + 0.001);
        Assert.Equal(through, (cut.CutEndedAt.Value - SawScript.Epoch).TotalSeconds, interval + 0.001);
    }

    private static Signal[] SignalsOf(string set) => set switch
    {
        "everything" => Everything,
        "head+load" => HeadAndLoad,
        "cycle+load" => CycleAndLoad,
        "cutting+load" => CuttingAndLoad,
        "cycle+head+load" => [Signal.CycleActive, Signal.HeadPosition, Signal.MotorLoad],
        "cycle+cutting" => [Signal.CycleActive, Signal.Cutting],
        "cycle+cutting+load+count" => [Signal.CycleActive, Signal.Cutting, Signal.MotorLoad, Signal.PartCount],
        _ => throw new ArgumentOutOfRangeException(nameof(set)),
    };
}
