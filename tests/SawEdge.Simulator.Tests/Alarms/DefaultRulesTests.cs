using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cutting;
using SawEdge.Core.Signals;
using SawEdge.Simulator.Faults;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;
using SawEdge.Simulator.Tests.Load;

namespace SawEdge.Simulator.Tests.Alarms;

/// <summary>The rules that hold where a plant writes none, on virtual saws run through the whole pipeline.</summary>
public sealed class DefaultRulesTests
{
    [Theory]
    [InlineData("round 100 mm", 2, 0.1, 60)]
    [InlineData("round 40 mm", 3, 0.5, 200)]
    [InlineData("rect 120 x 80 mm", 5, 0.2, 60)]
    [InlineData("tube 90 mm x 5 mm wall", 6, 0.5, 100)]
    [InlineData("IPE 200", 7, 0.5, 100)]
    [InlineData("bundle 2 x 5 of round 30 mm", 8, 1, 60)]
    public void Saw_WithoutAFault_RaisesNothing(string section, ulong seed, double interval, int cycles)
    {
        var run = Run(Watched.Saw(section, seed), section, interval, cycles);
        Assert.Empty(run.Changes.Where(change => change.Holds).Select(Told));
        Assert.True(run.Cuts >= cycles - 1);

        // They were looked at: each says once that nothing is the matter.
        Assert.Contains(run.Changes, change => change.Rule == "blade_gone");
        Assert.Contains(run.Changes, change => change.Rule == DefaultRules.UnusualCut);
        Assert.Equal(run.Changes.Count, run.Changes.Select(change => change.Rule).Distinct().Count());
    }

    [Theory]
    [InlineData("round 100 mm", 2)]
    [InlineData("tube 90 mm x 5 mm wall", 3)]
    public void Saw_OfWhichNoJobIsKnown_RaisesNothing(string section, ulong seed)
    {
        var run = Run(Watched.Saw(section, seed), null, 0.5, 100);
        Assert.Empty(run.Changes.Where(change => change.Holds).Select(Told));
        Assert.True(run.Cuts >= 99);
    }

    [Fact]
    public void Saw_WithAllThatIsOrdinary_RaisesNothing()
    {
        Fault[] faults =
        [
            new FeedHold(FaultTrigger.AtCycle(32), 0.3, 0.6), new FeedHold(FaultTrigger.AtCycle(34), 0.45, 2), new FeedHold(FaultTrigger.AtCycle(36), 0.6, 15),
            new FeedHold(FaultTrigger.AtCycle(38), 0.5, 12, BladeStops: true), new PartialCut(FaultTrigger.AtCycle(40), 0.4), new EmergencyStop(FaultTrigger.AtCycle(42), 0.5, 20),
        ];
        foreach (var seed in new[] { 2UL, 4UL, 5UL })
        {
            var run = Run(Watched.Saw("round 100 mm", seed, faults), "round 100 mm", 0.2, 46);
            Assert.Empty(run.Changes.Where(change => change.Holds).Select(Told));
        }
    }

    [Theory]
    [InlineData("round 100 mm", 2)]
    [InlineData("rect 120 x 80 mm", 4)]
    [InlineData("tube 168.3 mm x 3 mm wall", 5)]
    public void Saw_WhoseBladeBreaks_RaisesItOnceAndClearsItWithTheNextGoodCut(string section, ulong seed)
    {
        var run = Run(Watched.Saw(section, seed, new BladeBreak(FaultTrigger.AtCycle(20), 0.5)), section, 0.1, 26);
        var gone = run.Of("blade_gone");
        Assert.Equal(["-", "+", "-"], gone.Select(change => change.Holds ? "+" : "-"));
        var truth = run.Truths[19];
        Assert.InRange(gone[1].At, truth.Started, truth.Ended);
        Assert.True(gone[2].At > run.Truths[20].Started);
        Assert.StartsWith("S: The load fell from ", Text(gone[1]), StringComparison.Ordinal);
        Assert.Contains("lock out and tag out", gone[1].Caution, StringComparison.Ordinal);

        // One cause, one alarm; that the controller reports it as well, and for how long, is another matter.
        Assert.Empty(run.Changes.Where(change => change.Holds && change.Rule is not "blade_gone" and not "controller_fault").Select(Told));
    }

    [Theory]
    [InlineData(2)]
    [InlineData(4)]
    public void Saw_ThatStalls_RaisesItOnce(ulong seed)
    {
        var run = Run(Watched.Saw("round 100 mm", seed, new Stall(FaultTrigger.AtCycle(20), 0.4, TripAfterS: 8)), "round 100 mm", 0.1, 24);
        Assert.Equal(["-", "+", "-"], run.Of("stall").Select(change => change.Holds ? "+" : "-"));
        Assert.Empty(run.Changes.Where(change => change.Holds && change.Rule is not "stall" and not "overload" and not "controller_fault").Select(Told));
    }

    [Fact]
    public void Saw_WithoutStock_RaisesItOnce()
    {
        var run = Run(Watched.Saw("round 100 mm", 2, new NoStock(FaultTrigger.AtCycle(20))), "round 100 mm", 0.1, 24);
        Assert.Equal(["no_contact"], run.Changes.Where(change => change.Holds).Select(change => change.Rule));
        Assert.Equal(["-", "+", "-"], run.Of("no_contact").Select(change => change.Holds ? "+" : "-"));
    }

    [Fact]
    public void Saw_WhoseLoadFreezes_RaisesItOnce()
    {
        var run = Run(Watched.Saw("round 100 mm", 2, new StuckSignal(FaultTrigger.AtCycle(20), Signal.MotorLoad, 0.5)), "round 100 mm", 0.1, 24);
        Assert.Equal(["frozen_signal"], run.Changes.Where(change => change.Holds).Select(change => change.Rule));
    }

    [Fact]
    public void Saw_ThatWaitsInAFault_RaisesItAfterAMinute()
    {
        var run = Run(Watched.Saw("round 100 mm", 2, new EmergencyStop(FaultTrigger.AtCycle(5), 0.5, 600)), "round 100 mm", 0.2, 8);
        var fault = run.Of("controller_fault");
        Assert.Equal(["-", "+", "-"], fault.Select(change => change.Holds ? "+" : "-"));
        Assert.InRange((fault[2].At - fault[1].At).TotalSeconds, 565, 575);
        Assert.Contains("fault code", Text(fault[1]), StringComparison.Ordinal);
    }

    [Fact]
    public void Saw_WithAHardSpot_IsAnUnusualCutWithItsEvidence()
    {
        var run = Run(Watched.Saw("round 100 mm", 2, new HardSpot(FaultTrigger.AtCycle(70), 0.5, 8, 1.2)), "round 100 mm", 0.2, 76);
        var came = Assert.Single(run.Changes, change => change.Holds);
        Assert.Equal((DefaultRules.UnusualCut, "hard_spot"), (came.Rule, came.Cause));
        Assert.Equal(run.CycleIds[69], came.CycleId);
        Assert.True(came.Value >= came.Limit);
        Assert.Contains("above the rest of the cut", Text(came), StringComparison.Ordinal);
        Assert.Equal(["-", "+", "-"], run.Of(DefaultRules.UnusualCut).Select(change => change.Holds ? "+" : "-"));
    }

    [Fact]
    public void Saw_RunTwice_TellsTheSame()
    {
        Played Once() => Run(Watched.Saw("round 100 mm", 4, new BladeBreak(FaultTrigger.AtCycle(8), 0.5), new EmergencyStop(FaultTrigger.AtCycle(11), 0.5, 200)), "round 100 mm", 0.2, 14);
        Assert.Equal(Once().Changes.Select(Told), Once().Changes.Select(Told));
    }

    private static Played Run(VirtualSawOptions options, string? section, double interval, int cycles)
    {
        var saw = new VirtualSaw(options);
        var pipeline = new SawPipeline(options.Machine.ToSawMachine(), section is null ? JobBook.Empty : Watched.Jobs(section));
        var watch = new SawAlarmWatch(pipeline.Saw, DefaultRules.All);
        var (changes, cuts) = (new List<ConditionChange>(), new List<string>());
        void Take()
        {
            while (pipeline.TryTakeFinding(out var finding))
                watch.Take(finding);
            while (pipeline.TryTake(out var cut))
            {
                cuts.Add(cut.Record.CycleId);
                watch.Take(cut.Record, cut.Assessment);
            }

            while (watch.TryTake(out var change))
                changes.Add(change);
        }

        foreach (var frame in RecordingGenerator.Frames(saw, new RecordingOptions { Interval = TimeSpan.FromSeconds(interval), Cycles = cycles }))
        {
            pipeline.Push(frame);
            watch.Push(frame, pipeline.Phase, pipeline.IdleKw);
            Take();
        }

        pipeline.Complete();
        Take();
        return new Played(changes, cuts, saw.TakeFinished());
    }

    private static string Told(ConditionChange change) => $"{change.At:O} {(change.Holds ? "+" : "-")}{change.Rule} {change.CycleId} {change.Value} {(change.Holds ? Text(change) : "")}";

    private static string Text(ConditionChange change)
    {
        var rule = DefaultRules.All.Single(rule => rule.Name == change.Rule);
        return rule.Text.Fill(AlarmFacts.Of(rule, change), (value, unit) => FormattableString.Invariant($"{value:0.###} {unit}").TrimEnd());
    }

    private sealed record Played(List<ConditionChange> Changes, List<string> CycleIds, IReadOnlyList<SawTruth> Truths)
    {
        public int Cuts => CycleIds.Count;

        public List<ConditionChange> Of(string rule) => Changes.FindAll(change => change.Rule == rule);
    }
}
