using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Core.Signals;
using SawEdge.Simulator.Faults;
using SawEdge.Simulator.Saws;

namespace SawEdge.Simulator.Tests.Load;

/// <summary>The live watch against the truth of virtual saws. All figures of these saws are common practice, no source.</summary>
public sealed class LiveWatchTests
{
    public static TheoryData<string> Sections =>
    [
        "round 100 mm", "round 40 mm", "rect 120 x 80 mm", "rect 300 x 50 mm", "tube 90 mm x 5 mm wall", "tube 168.3 mm x 3 mm wall",
        "rect tube 100 x 60 x 5 mm wall, corner 10 mm", "IPE 200", "IPE 300, web flat", "UPN 200, toes down", "L 100x100x10, heel up",
        "bundle 2 x 5 of round 30 mm", "bundle 3 x 2 of tube 60 mm x 3 mm wall", "hex 50 mm, point down", "polygon (0, 0) (80, 0) (40, 60) mm",
    ];

    private static double[] Intervals => [0.1, 0.2, 1];

    [Theory]
    [MemberData(nameof(Sections))]
    public void Push_FaultFreeCuts_FindsAndDoubtsNothing(string section)
    {
        foreach (var interval in Intervals)
        {
            for (var seed = 2UL; seed <= 3; seed++)
            {
                foreach (var jobs in new[] { Watched.Jobs(section), JobBook.Empty })
                {
                    var run = Watched.Run(Watched.Saw(section, seed), jobs, interval, 6);
                    Assert.Empty(run.Findings.Select(finding => $"{interval} s, seed {seed}: {finding.Kind} {finding.Words}"));
                    Assert.All(run.Cuts, cut => Assert.Equal(SignalDoubts.None, cut.Doubts));
                    Assert.True(run.Cuts.Count >= 5);
                }
            }
        }
    }

    [Theory]
    [MemberData(nameof(Sections))]
    public void Push_HoldsNotchesAndStops_FindsAndDoubtsNothing(string section)
    {
        Fault[] faults =
        [
            new FeedHold(FaultTrigger.AtCycle(2), 0.3, 0.6), new FeedHold(FaultTrigger.AtCycle(3), 0.45, 2), new FeedHold(FaultTrigger.AtCycle(4), 0.6, 15),
            new FeedHold(FaultTrigger.AtCycle(5), 0.5, 12, BladeStops: true), new PartialCut(FaultTrigger.AtCycle(6), 0.4), new EmergencyStop(FaultTrigger.AtCycle(7), 0.5, 20),
        ];
        foreach (var interval in Intervals)
        {
            for (var seed = 2UL; seed <= 3; seed++)
            {
                var run = Watched.Run(Watched.Saw(section, seed, faults), seed == 3 ? JobBook.Empty : Watched.Jobs(section), interval, 8);
                Assert.Empty(run.Findings.Select(finding => $"{interval} s, seed {seed}: {finding.Kind} {finding.Words}"));
                Assert.All(run.Cuts, cut => Assert.Equal(SignalDoubts.None, cut.Doubts));
            }
        }
    }

    [Theory]
    [MemberData(nameof(Sections))]
    public void Push_BladeBreak_IsCalledWithinTwoFramesOfTheEvidence(string section)
    {
        foreach (var interval in Intervals)
        {
            for (var seed = 1UL; seed <= 4; seed++)
            {
                var run = Watched.Run(Watched.Saw(section, seed, new BladeBreak(FaultTrigger.AtCycle(3), 0.25 + (0.1 * seed))), Watched.Jobs(section), interval, 4);
                var truth = run.Truths[2];
                if (AGapExplains(truth) || BreakEvidence(run, truth) is not { } evidence || evidence.AddSeconds(2 * interval) > truth.Ended)
                    continue;
                var finding = Assert.Single(run.In(truth), finding => finding.Kind == LiveFindingKind.BladeGone);
                Assert.True(finding.At <= evidence.AddSeconds((2 * interval) + 0.001), $"{section} {interval} s, seed {seed}: {(finding.At - evidence).TotalSeconds / interval:0.0} frames late. {finding.Words}");
                Assert.True(finding.At > truth.BladeLost);
                Assert.Contains(finding, run.InCuts);
                Assert.Single(run.Findings);
            }
        }
    }

    [Theory]
    [MemberData(nameof(Sections))]
    public void Push_Stall_IsCalledWithinTwoFramesOfTheEvidence(string section)
    {
        foreach (var interval in Intervals)
        {
            for (var seed = 1UL; seed <= 4; seed++)
            {
                var run = Watched.Run(Watched.Saw(section, seed, new Stall(FaultTrigger.AtCycle(3), 0.15 + (0.13 * seed), TripAfterS: 8)), Watched.Jobs(section), interval, 4);
                var truth = run.Truths[2];
                var finding = Assert.Single(run.In(truth), finding => finding.Kind == LiveFindingKind.Stall);
                var high = run.Physics(truth, truth.Left!.Value).First(moment => moment.Load > finding.Limit).At;
                var stood = truth.Left.Value.AddSeconds(2 * interval);
                var evidence = high > stood ? high : stood;

                // A blade speed shows a stall at once; without it a head that is read in steps of 0.1 mm must have missed more than those.
                var missing = truth.Left.Value.AddSeconds(0.25 / (0.7 * PaceMmS(truth)));
                if (run.Options.Signals is not null && missing > evidence)
                    evidence = missing;
                Assert.True(finding.At <= evidence.AddSeconds((2 * interval) + 0.001), $"{section} {interval} s, seed {seed}: {(finding.At - evidence).TotalSeconds / interval:0.0} frames late. {finding.Words}");
                Assert.True(finding.At > truth.Left);
                Assert.Contains(finding, run.InCuts);
                Assert.All(run.Findings, other => Assert.True(other.Kind is LiveFindingKind.Stall or LiveFindingKind.Overload, other.Words));
            }
        }
    }

    [Theory]
    [InlineData("round 100 mm", 0.1)]
    [InlineData("rect 120 x 80 mm", 0.2)]
    [InlineData("rect 120 x 80 mm", 1)]
    [InlineData("tube 168.3 mm x 3 mm wall", 0.1)]
    public void Push_NoStock_IsNoContact(string section, double interval)
    {
        for (var seed = 1UL; seed <= 4; seed++)
        {
            var run = Watched.Run(Watched.Saw(section, seed, new NoStock(FaultTrigger.AtCycle(3))), Watched.Jobs(section), interval, 4);
            var finding = Assert.Single(run.Findings);
            Assert.Equal(LiveFindingKind.NoContact, finding.Kind);
            Assert.Contains(finding, run.In(run.Truths[2]));
            Assert.InRange(finding.Value, 6, 15);
        }
    }

    [Theory]
    [InlineData(Signal.MotorLoad, 0.1)]
    [InlineData(Signal.MotorLoad, 0.2)]
    [InlineData(Signal.HeadPosition, 0.1)]
    [InlineData(Signal.HeadPosition, 1)]
    public void Push_StuckSignal_IsFrozen(Signal signal, double interval)
    {
        for (var seed = 1UL; seed <= 4; seed++)
        {
            var run = Watched.Run(Watched.Saw("round 100 mm", seed, new StuckSignal(FaultTrigger.AtCycle(3), signal, 0.5)), Watched.Jobs("round 100 mm"), interval, 4);
            var finding = Assert.Single(run.Findings);
            Assert.Equal(LiveFindingKind.FrozenSignal, finding.Kind);
            Assert.Contains(signal == Signal.MotorLoad ? "load has read exactly" : "head position has read exactly", finding.Words, StringComparison.Ordinal);

            // 3 s and 20 frames; or 3 mm at a pace of about 1 mm/s, allowing for a section that widens.
            var truth = run.Truths[2];
            var stuckAt = truth.Started + ((truth.Ended - truth.Started) / 2);
            Assert.InRange((finding.At - stuckAt).TotalSeconds, 2.9, signal == Signal.MotorLoad ? (20 * interval) + 1.2 : 9);
        }
    }

    // Within the lag of a load below a place where bars hardly touch, a low load is no sign of a broken blade.
    private static bool AGapExplains(SawTruth truth)
    {
        var section = truth.Job.Section;
        var least = Enumerable.Range(0, 40).Min(i => section.WidthAt(Math.Clamp(truth.DepthMm - 4 + (i * 0.1), 0, section.HeightMm)));
        return least < 0.5 * section.WidthAt(truth.DepthMm);
    }

    private static double PaceMmS(SawTruth truth) => Math.Min(truth.Job.RateCm2Min * 100 / truth.Job.Section.WidthAt(truth.DepthMm), 180) / 60;

    // Load down to idle and 15 % of what it was above it, and the head on by 0.3 mm since.
    private static DateTimeOffset? BreakEvidence(Watched run, SawTruth truth)
    {
        var idle = run.Options.Machine.IdleKw(70);
        var lost = truth.BladeLost!.Value;
        var before = run.Physics(truth, lost.AddMilliseconds(-20)).First().Load - idle;
        var low = double.NaN;
        foreach (var (at, head, load) in run.Physics(truth, lost))
        {
            if (double.IsNaN(low) && load <= idle + (0.15 * before))
                low = head;
            if (head <= low - 0.3)
                return at;
        }

        return null;
    }
}
