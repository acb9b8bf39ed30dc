using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;
using SawEdge.Core.Tests.Cycles;

namespace SawEdge.Core.Tests;

/// <summary>Two pipelines that watch a saw in turns: whatever the moment in which one takes over from the other, no cycle has two records.</summary>
public sealed class HandOverTests
{
    private static readonly Signal[] WithBit = [Signal.HeadPosition, Signal.MotorLoad, Signal.CycleActive, Signal.PartCount];
    private static readonly Signal[] WithoutBit = [Signal.HeadPosition, Signal.MotorLoad];
    private const double Interval = 0.1;
    private const double Between = 0.35;

    public static TheoryData<bool> Bits => [true, false];

    /// <summary>The saw is given away in order: who has it goes on until its own cycle is over.</summary>
    [Theory]
    [MemberData(nameof(Bits))]
    public void GivenAway_AtAnyMoment_EachCycleIsRecordedOnce(bool hasCycleBit)
    {
        var frames = Frames(hasCycleBit, out var end);
        var all = Run(frames, handOver: null).ConvertAll(cut => cut.Record.StartedAt);
        Assert.Equal(3, all.Count);
        for (var at = 3.0; at < end; at += 1.3)
        {
            var before = Run(frames, new HandOver(SawScript.At(-60), TimeSpan.FromSeconds(Interval)), givenAwayAt: at);
            var after = Run(frames.SkipWhile(frame => frame.Time < SawScript.At(at + Between)), TakenOver(at + Between, hasCycleBit));

            // Nobody sees a start that lies between the two, or so near that the frames do not tell.
            Holds(all, before, after, at, -0.6, Between + 0.6 + Doubtful(frames, at, hasCycleBit));
        }
    }

    /// <summary>Who had the saw is gone from one frame to the next, and comes back with what it had stored: the cycle that it left open is its own.</summary>
    [Theory]
    [MemberData(nameof(Bits))]
    public void Died_AtAnyMoment_WhatWasOpenIsRecordedByTheOneThatSawItsStart(bool hasCycleBit)
    {
        var frames = Frames(hasCycleBit, out var end);
        var all = Run(frames, handOver: null).ConvertAll(cut => cut.Record.StartedAt);
        for (var at = 3.0; at < end; at += 1.3)
        {
            var before = Run(frames.TakeWhile(frame => frame.Time < SawScript.At(at)), handOver: null, isOver: true);
            var after = Run(frames.SkipWhile(frame => frame.Time < SawScript.At(at + Between)), TakenOver(at + Between, hasCycleBit));

            // Of a cycle that was left open before its contact nothing was cut as far as anybody saw.
            Holds(all, before, after, at, -16, Between + 0.6 + Doubtful(frames, at, hasCycleBit));
        }
    }

    [Fact]
    public void TakenOver_InACycle_SaysThatItIsLeftOutAndNothingOfItIsToBeStored()
    {
        var frames = Frames(hasCycleBit: true, out _);
        var first = Run(frames, handOver: null)[0].Record;
        var pipeline = Pipeline(TakenOver((first.StartedAt - SawScript.Epoch).TotalSeconds + 5));
        foreach (var frame in frames.Where(frame => frame.Time >= first.StartedAt.AddSeconds(5) && frame.Time < first.EndedAt))
        {
            pipeline.Push(frame);
            Assert.True(pipeline.HasOpenEnds);
            Assert.False(pipeline.HasOwnOpenEnds);
        }

        Assert.False(pipeline.TryTakeLeftOut(out _));
        pipeline.Complete();
        Assert.False(pipeline.TryTake(out _));
        Assert.True(pipeline.TryTakeLeftOut(out var startedAt));
        Assert.InRange((startedAt - first.StartedAt).TotalSeconds, 4.9, 5.2);
    }

    [Fact]
    public void TakenOver_AfterTheOtherMadeParts_TheyAreNotCountedAsUnseen()
    {
        var frames = Frames(hasCycleBit: true, out _);
        var cycles = Run(frames, handOver: null);
        var first = Pipeline(handOver: null);
        foreach (var frame in frames.TakeWhile(frame => frame.Time < cycles[0].Record.StartedAt))
            first.Push(frame);
        var memory = first.Save();
        var rest = frames.SkipWhile(frame => frame.Time < cycles[1].Record.EndedAt.AddSeconds(8)).ToList();

        Assert.NotNull(Assert.Single(Resumed(memory, rest, handOver: null)).Evidence.Cut.Before);
        var own = Assert.Single(Resumed(memory, rest, new HandOver(rest[0].Time, TimeSpan.FromSeconds(Interval))));
        Assert.Null(own.Evidence.Cut.Before);
        Assert.DoesNotContain("not seen", own.Record.Notes, StringComparison.Ordinal);
    }

    // Without a cycle bit the next cycle is left out where the first frames still show the head go down at the very bottom: what follows is taken for the same cycle.
    private static double Doubtful(List<SignalFrame> frames, double at, bool hasCycleBit) =>
        hasCycleBit ? 0 : frames.First(frame => frame.Time >= SawScript.At(at + Between)).Number(Signal.HeadPosition) < 5 ? 60 : HandOver.WithoutCycleBit.TotalSeconds;

    private static void Holds(List<DateTimeOffset> all, List<FinishedCut> before, List<FinishedCut> after, double at, double missedFrom, double missedTo)
    {
        var recorded = before.Concat(after).Select(cut => cut.Record.StartedAt).ToList();
        foreach (var start in all)
        {
            var times = recorded.Count(other => Math.Abs((other - start).TotalSeconds) < 1.5);
            var offset = (start - SawScript.At(at)).TotalSeconds;
            Assert.True(offset > missedFrom && offset < missedTo ? times <= 1 : times == 1, $"given away at {at:0.0} s: the cycle that begins {offset:0.00} s after that has {times} records");
        }

        Assert.True(recorded.Count <= all.Count, $"given away at {at:0.0} s: {recorded.Count} records of {all.Count} cycles; after it {string.Join(", ", after.Select(cut => $"{cut.Record.StartedAt:mm:ss.f} {cut.Record.Outcome} {cut.Evidence.Cut.CutStartedAt:mm:ss.f}"))}");
    }

    private static List<FinishedCut> Run(IEnumerable<SignalFrame> frames, HandOver? handOver, double givenAwayAt = double.MaxValue, bool isOver = false)
    {
        var pipeline = Pipeline(handOver);
        var cuts = new List<FinishedCut>();
        DateTimeOffset? last = null;
        foreach (var frame in frames)
        {
            if (handOver is { GivenAwayAt: null } && givenAwayAt < double.MaxValue && frame.Time >= SawScript.At(givenAwayAt))
                handOver.GivenAwayAt = last;
            pipeline.Push(frame);
            last = frame.Time;
            while (pipeline.TryTake(out var cut))
                cuts.Add(cut);
        }

        if (isOver)
            pipeline.Complete();
        while (pipeline.TryTake(out var cut))
            cuts.Add(cut);
        return cuts;
    }

    private static List<FinishedCut> Resumed(PipelineMemory memory, List<SignalFrame> frames, HandOver? handOver)
    {
        var pipeline = Pipeline(handOver);
        pipeline.Restore(memory);
        pipeline.Resume();
        var cuts = new List<FinishedCut>();
        foreach (var frame in frames)
        {
            pipeline.Push(frame);
            while (pipeline.TryTake(out var cut))
                cuts.Add(cut);
        }

        return cuts;
    }

    private static HandOver TakenOver(double at, bool hasCycleBit = true) => new(SawScript.At(at), hasCycleBit ? TimeSpan.FromSeconds(Interval) : HandOver.WithoutCycleBit);

    private static SawPipeline Pipeline(HandOver? handOver) => new(new SawMachine { Name = "Saw 1" }, JobBook.Empty) { HandOver = handOver };

    private static List<SignalFrame> Frames(bool hasCycleBit, out double end)
    {
        var script = new SawScript().Wait(30).FullCut(out _, out _).Wait(20).FullCut(out _, out _).Wait(20).FullCut(out _, out _).Wait(20);
        end = script.Now - 21;
        return [.. script.Frames(Interval, hasCycleBit ? WithBit : WithoutBit)];
    }
}
