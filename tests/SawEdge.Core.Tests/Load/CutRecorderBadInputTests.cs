using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Core.Signals;
using SawEdge.Core.Tests.Cycles;

namespace SawEdge.Core.Tests.Load;

/// <summary>Signals that are wrong, from the frames on: the score says so, does not alarm of itself, and learns nothing from them.</summary>
public sealed class CutRecorderBadInputTests
{
    private const int Good = 12;

    private static readonly Signal[] Signals = [Signal.HeadPosition, Signal.MotorLoad, Signal.CycleActive, Signal.Cutting, Signal.BladeRunning, Signal.PartCount, Signal.Job];

    private delegate void Change(ref SignalFrame frame, double secondsInCycle);

    public static TheoryData<string, SignalDoubts> Doubtful => new()
    {
        { "constant", SignalDoubts.LoadConstant },
        { "negative", SignalDoubts.LoadNegative },
        { "saturated", SignalDoubts.LoadSaturated },
        { "jumps", SignalDoubts.HeadJumps },
        { "backwards", SignalDoubts.HeadBackwards },
        { "speed zero", SignalDoubts.BladeSpeedZero },
    };

    [Theory]
    [MemberData(nameof(Doubtful))]
    public void Take_DoubtfulSignal_IsSaidAndNotLearnedFrom(string name, SignalDoubts doubt)
    {
        var cuts = Run((ref frame, seconds) => Spoil(name, ref frame, seconds));
        var (bad, before, after) = (cuts[Good], cuts[Good - 1], cuts[Good + 1]);
        Assert.True(bad.Evidence.Cut.Doubts.HasFlag(doubt), $"{bad.Evidence.Cut.Doubts}");
        Assert.NotEqual("", bad.Record.Notes);
        Assert.False(bad.Assessment.Accepted);
        Assert.StartsWith("left out: ", bad.Assessment.Why, StringComparison.Ordinal);

        // Loads that are wrong are not looked at.
        if (doubt is SignalDoubts.LoadConstant or SignalDoubts.LoadNegative or SignalDoubts.LoadSaturated)
            Assert.DoesNotContain(bad.Assessment.Views, view => view.View is LoadView.Shape or LoadView.Loop || view.What is "specific energy" or "idle load");

        // The cut after it is held against the same as the one before.
        Assert.True(after.Assessment.Accepted, after.Assessment.Why);
        Assert.Equal(Expected(before), Expected(after), 0.02);
        Assert.Equal(before.Record.LearnedCutTimeS!.Value, after.Record.LearnedCutTimeS!.Value, 0.3);
    }

    [Theory]
    [InlineData(1000, "1000 times")]
    [InlineData(0.001, "times less")]
    public void Take_LoadInTheWrongUnit_IsSaidAndNotLearnedFrom(double factor, string words)
    {
        var cuts = Run((ref frame, _) => frame.Set(Signal.MotorLoad, frame.Number(Signal.MotorLoad) * factor));
        var bad = cuts[Good];
        var said = Assert.Single(bad.Assessment.Doubts);
        Assert.Contains("check the unit of motor_load", said, StringComparison.Ordinal);
        Assert.Contains(words, said, StringComparison.Ordinal);
        Assert.Contains(said, bad.Record.Notes, StringComparison.Ordinal);
        Assert.Empty(bad.Assessment.Views);
        Assert.Null(bad.Record.LoadScore);
        Assert.False(bad.Assessment.Accepted);
        Assert.Equal(Expected(cuts[Good - 1]), Expected(cuts[Good + 1]), 0.02);
    }

    [Fact]
    public void Take_LoadInTheWrongUnitFromTheFirstCut_LearnsNothing()
    {
        var (cuts, recorder) = (new MadeCuts(), MadeCuts.Recorder());
        for (var i = 0; i < 60; i++)
        {
            var cut = cuts.Next();
            var watts = cut with
            {
                MeanLoadKw = cut.MeanLoadKw * 1000,
                PeakLoadKw = cut.PeakLoadKw * 1000,
                IdleLoadKw = cut.IdleLoadKw * 1000,
                EnergyKj = cut.EnergyKj * 1000,
                Profile = cut.Profile! with { MeanLoadKw = [.. cut.Profile.MeanLoadKw.Select(kw => kw * 1000)] },
            };
            var bad = recorder.Take(MadeCuts.Evidence(watts))[0].Assessment;
            Assert.Contains("check the unit", Assert.Single(bad.Doubts), StringComparison.Ordinal);
            Assert.Null(bad.Score);
        }

        // Once the unit is right the saw begins as a new one.
        var first = recorder.Take(MadeCuts.Evidence(cuts.Next()))[0].Assessment;
        Assert.Equal("accepted", first.Why);
        Assert.All(first.Views, view => Assert.Equal(0, view.History));
        Assert.DoesNotContain(first.Views, view => view.What == "idle load");
    }

    [Fact]
    public void Take_RatedPowerOfAJobWithoutSection_TellsTheWrongUnit()
    {
        var recorder = new CutRecorder(MadeCuts.Machine with { RatedPowerKw = 5.5 }, new LoadSettings());
        var cut = new MadeCuts().Next() with { Job = "nobody's", MeanLoadKw = 4500 };
        var said = Assert.Single(recorder.Take(MadeCuts.Evidence(cut))[0].Assessment.Doubts);
        Assert.Contains("rated power of 5.5 kW", said, StringComparison.Ordinal);
    }

    [Fact]
    public void Take_SectionThatDoesNotFit_IsSaidAndHeldAgainstEarlierCuts()
    {
        var (cuts, recorder) = (new MadeCuts(), MadeCuts.Recorder());
        foreach (var cut in cuts.Several(60))
            recorder.Take(MadeCuts.Evidence(cut));
        var bad = recorder.Take(MadeCuts.Evidence(cuts.Next() with { Job = "J-2" }))[0];
        var said = Assert.Single(bad.Assessment.Doubts);
        Assert.Contains("60 mm high, but the head travelled 100 mm", said, StringComparison.Ordinal);
        Assert.Contains(said, bad.Record.Notes, StringComparison.Ordinal);
        Assert.StartsWith("level: earlier cuts of the job;", bad.Assessment.Basis, StringComparison.Ordinal);
        Assert.Equal("left out: signals or job in doubt", bad.Assessment.Why);
        Assert.Equal("wrong_job", bad.Record.LikelyCause);
        Assert.Empty(recorder.Take(MadeCuts.Evidence(cuts.Next()))[0].Assessment.Doubts);
    }

    [Fact]
    public void Take_LoadAndCycleBitOnly_IsScoredByTheSectionAsAWhole()
    {
        var cuts = Run((ref _, _) => { }, [Signal.MotorLoad, Signal.CycleActive, Signal.Job]);
        Assert.Equal(Good + 2, cuts.Count);
        Assert.All(cuts, cut => Assert.StartsWith("cut: load+bits; ", cut.Record.Basis, StringComparison.Ordinal));
        Assert.StartsWith("level: section as a whole; shape: time share; pace: ", cuts[^1].Assessment.Basis, StringComparison.Ordinal);
        Assert.True(cuts[^1].Assessment.Accepted, cuts[^1].Assessment.Why);
        Assert.False(cuts[^1].Assessment.Profile!.ByDepth);
        Assert.NotNull(cuts[^1].Record.ScoreShape);
    }

    [Fact]
    public void Take_LoadAndCycleBitOfAnUnknownJob_IsHeldAgainstEarlierCuts()
    {
        var cuts = Run((ref _, _) => { }, [Signal.MotorLoad, Signal.CycleActive]);
        Assert.StartsWith("level: earlier cuts of the job; ", cuts[^1].Assessment.Basis, StringComparison.Ordinal);
        Assert.Contains("; pace: none; ", cuts[^1].Assessment.Basis, StringComparison.Ordinal);
        Assert.NotNull(cuts[^1].Record.ScoreLevel);
    }

    [Fact]
    public void Take_NoLoadAtAll_IsHeldAgainstItsTimeOnly()
    {
        var (cuts, recorder) = (new MadeCuts(), MadeCuts.Recorder());
        CutEvidence Next(double slower = 0)
        {
            var cut = cuts.Next(slower: slower);
            return MadeCuts.Evidence(cut with
            {
                MeanLoadKw = double.NaN,
                PeakLoadKw = double.NaN,
                IdleLoadKw = double.NaN,
                EnergyKj = double.NaN,
                Basis = "head+bits",
                Loop = null,
                Profile = cut.Profile! with { MeanLoadKw = [.. Enumerable.Repeat(float.NaN, MadeCuts.Bins)] },
            });
        }

        for (var i = 0; i < 200; i++)
            recorder.Take(Next());
        var normal = recorder.Take(Next())[0];
        Assert.Equal([LoadView.Pace], normal.Assessment.Views.Select(view => view.View));
        Assert.EndsWith("level: none; shape: none; pace: learned time; loop: none", normal.Record.Basis, StringComparison.Ordinal);
        Assert.True(normal.Assessment.Accepted, normal.Assessment.Why);
        Assert.Null(normal.Record.ScoreLevel);
        var slow = recorder.Take(Next(slower: 0.4))[0];
        Assert.True(slow.Record.LoadScore > 4);
        Assert.Equal("feed_starved", slow.Record.LikelyCause);
    }

    private static double Expected(FinishedCut cut) => cut.Assessment.Views.First(view => view.What == "specific energy").Expected;

    private static void Spoil(string name, ref SignalFrame frame, double seconds)
    {
        var (head, load) = (frame.Number(Signal.HeadPosition), frame.Number(Signal.MotorLoad));
        switch (name)
        {
            case "constant":
                frame.Set(Signal.MotorLoad, 3.2);
                break;
            case "negative":
                frame.Set(Signal.MotorLoad, -load);
                break;
            case "saturated":
                frame.Set(Signal.MotorLoad, Math.Min(5.9, load));
                break;
            case "jumps" when seconds is > 40 and < 40.4:
                frame.Set(Signal.HeadPosition, head - 60);
                break;
            case "backwards":
                frame.Set(Signal.HeadPosition, 300 - head);
                break;
            case "speed zero":
                frame.Set(Signal.BladeSpeed, 0.0);
                break;
            default:
                break;
        }
    }

    // Good cuts, a spoiled one, and a good one.
    private static List<FinishedCut> Run(Change spoil, Signal[]? signals = null)
    {
        var script = new SawScript().Wait(5);
        var starts = new List<double>();
        for (var i = 0; i < Good + 2; i++)
        {
            starts.Add(script.Now);
            script.FullCut(out _, out _, feed: 60);
        }

        var pipeline = new SawPipeline(MadeCuts.Machine with { BladeLengthMm = 4000 }, MadeCuts.Jobs);
        var cuts = new List<FinishedCut>();
        foreach (var made in script.Frames(0.1, signals ?? Signals, noise: 0.1))
        {
            var frame = made;
            var seconds = (frame.Time - SawScript.Epoch).TotalSeconds;
            if (signals is null)
                frame.Set(Signal.BladeSpeed, 70);
            if (seconds >= starts[Good] - 7 && seconds < starts[Good + 1])
                spoil(ref frame, seconds - starts[Good]);
            pipeline.Push(frame);
            while (pipeline.TryTake(out var cut))
                cuts.Add(cut);
        }

        pipeline.Complete();
        while (pipeline.TryTake(out var cut))
            cuts.Add(cut);
        Assert.Equal(Good + 2, cuts.Count);
        return cuts;
    }
}
