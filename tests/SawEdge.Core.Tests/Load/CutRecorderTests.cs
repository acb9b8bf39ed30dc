using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Core.Tests.Cycles;

namespace SawEdge.Core.Tests.Load;

/// <summary>The load score of whole series of cuts: what is learned, what is left out, and what becomes normal.</summary>
public sealed class CutRecorderTests
{
    private readonly MadeCuts _cuts = new();
    private readonly CutRecorder _recorder = MadeCuts.Recorder();

    [Fact]
    public void Take_NormalCuts_AreAcceptedAndSeldomUnusual()
    {
        var assessments = Take(_cuts.Several(500)).ConvertAll(cut => cut.Assessment);
        Assert.InRange(assessments.Skip(100).Count(a => a.Score >= 3), 0, 4);
        Assert.InRange(assessments.Count(a => !a.Accepted), 0, 6);
        Assert.Equal("accepted", assessments[^1].Why);
        Assert.Equal([LoadView.Level, LoadView.Shape, LoadView.Pace, LoadView.Loop], assessments[^1].Views.Select(view => view.View).Distinct().Order());
        Assert.All(assessments[^1].Views, view => Assert.InRange(view.History, 200, 1024));
        Assert.Equal("level: section by depth; shape: depth; pace: learned time; loop: blade position", assessments[^1].Basis);
        Assert.Empty(assessments[^1].Causes);
    }

    [Fact]
    public void Take_UnusualLevel_IsLeftOutAndSaysWhy()
    {
        _cuts.Settle(_recorder);
        var level = LevelExpected();
        var odd = Take(_cuts.Next(extra: 0.6));
        Assert.False(odd.Assessment.Accepted);
        Assert.StartsWith("left out: specific energy is unusual (score ", odd.Assessment.Why, StringComparison.Ordinal);
        Assert.True(odd.Assessment.Score >= odd.Assessment.Threshold);
        Assert.NotEmpty(odd.Assessment.Causes);
        Assert.Equal(odd.Assessment.Causes[0].Name, odd.Record.LikelyCause);
        Assert.Equal(level, LevelExpected(), 0.03);
    }

    [Theory]
    [InlineData(0.35, "hard_spot")]
    [InlineData(-0.35, "loose_stock")]
    public void Take_Bump_IsFoundAtItsDepth(double height, string cause)
    {
        _cuts.Settle(_recorder);
        var odd = Take(_cuts.Next(pattern: bin => bin is >= 24 and < 27 ? height : 0));
        var shape = Assert.Single(odd.Assessment.Views, view => view.View == LoadView.Shape);
        Assert.True(shape.Score > 4);
        Assert.Equal(Math.Sign(height), Math.Sign(shape.Statistic));
        Assert.StartsWith("depth ", shape.What, StringComparison.Ordinal);
        Assert.Equal(cause, odd.Record.LikelyCause);
        var profile = odd.Assessment.Profile!;
        Assert.All(Enumerable.Range(24, 3), bin => Assert.True(Math.Abs(profile.Standardised[bin]) > 4));
        Assert.Equal(height > 0, profile.LoadKw[25] > profile.HighKw[25]);
        Assert.Equal(height < 0, profile.LoadKw[25] < profile.LowKw[25]);
    }

    [Fact]
    public void Take_NormalCut_LiesInItsBand()
    {
        _cuts.Settle(_recorder);
        var profile = Take(_cuts.Next()).Assessment.Profile!;
        var inside = Enumerable.Range(1, 44).Count(bin => profile.LoadKw[bin] >= profile.LowKw[bin] && profile.LoadKw[bin] <= profile.HighKw[bin]);
        Assert.InRange(inside, 36, 44);
    }

    [Fact]
    public void Take_SlowerCut_IsUnusualInPaceAndNotLearnedFrom()
    {
        _cuts.Settle(_recorder);
        var learned = Take(_cuts.Next()).Record.LearnedCutTimeS;
        var odd = Take(_cuts.Next(slower: 0.4));
        Assert.True(odd.Record.ScorePace > 4);
        Assert.False(odd.Assessment.Accepted);
        Assert.Equal(learned!.Value, Take(_cuts.Next()).Record.LearnedCutTimeS!.Value, 0.2);
    }

    [Fact]
    public void Take_LoadThatFollowsTheLoop_IsStrippedTeeth()
    {
        _cuts.Settle(_recorder);
        var cut = _cuts.Next();
        var odd = Take(cut with { Loop = cut.Loop! with { PowerRatio = 60, Swing = 0.2 } });
        Assert.True(odd.Record.ScoreLoop > 4);
        Assert.Equal("stripped_teeth", odd.Record.LikelyCause);
    }

    [Fact]
    public void Take_FoundWhileItRan_IsLeftOut()
    {
        _cuts.Settle(_recorder);
        var finding = new LiveFinding(LiveFindingKind.Stall, SawScript.Epoch, 5, 4, "The head stood while the load was high.");
        var odd = _recorder.Take(MadeCuts.Evidence(_cuts.Next(), finding))[0];
        Assert.Equal("left out: stall while it ran", odd.Assessment.Why);
        Assert.Equal("stall", odd.Record.LikelyCause);
        Assert.Contains(finding.Words, odd.Record.Notes, StringComparison.Ordinal);
    }

    [Fact]
    public void Take_StoppedShort_IsScoredAndNotLearnedFrom()
    {
        _cuts.Settle(_recorder);
        var partial = Take(_cuts.Next() with { Outcome = CutOutcome.Partial });
        Assert.NotNull(partial.Assessment.Score);
        Assert.Equal("left out: partial", partial.Assessment.Why);
        var aborted = Take(_cuts.Next() with { Outcome = CutOutcome.Aborted });
        Assert.Null(aborted.Assessment.Score);
        Assert.Empty(aborted.Assessment.Views);
        Assert.False(aborted.Assessment.Accepted);
    }

    [Fact]
    public void Take_FewOfItsFramesSeen_IsNotLearnedFrom()
    {
        _cuts.Settle(_recorder);
        Assert.Equal("left out: too few of its frames were seen", Take(_cuts.Next() with { Coverage = 0.3 }).Assessment.Why);
    }

    [Fact]
    public void Take_FortyUnusualCutsInARow_TheNewLevelIsNormal()
    {
        _cuts.Settle(_recorder);
        _cuts.Level += 0.7;
        var after = Take(_cuts.Several(110)).ConvertAll(cut => cut.Assessment);
        Assert.All(after.Take(LoadScorer.MostLeftOut - 1), a => Assert.False(a.Accepted));
        var told = after.FindIndex(a => a.Why.EndsWith("is taken as this saw's new normal", StringComparison.Ordinal));
        Assert.Equal(LoadScorer.MostLeftOut - 1, told);
        Assert.InRange(after.Skip(told + 15).Count(a => !a.Accepted), 0, 5);
        Assert.InRange(after[^1].Score!.Value, 0, 3);
    }

    [Fact]
    public void Take_FortyCutsOfAnotherShape_LearningGoesOn()
    {
        _cuts.Settle(_recorder);
        var after = new List<LoadAssessment>();
        for (var i = 0; i < 120; i++)
            after.Add(Take(_cuts.Next(pattern: bin => bin is >= 24 and < 28 ? 0.4 : 0)).Assessment);
        Assert.False(after[10].Accepted);
        Assert.Contains(after, a => a.Why.EndsWith("is taken as this saw's new normal", StringComparison.Ordinal));
        Assert.True(after[^1].Accepted);
        Assert.InRange(after[^1].Score!.Value, 0, 3);
    }

    [Fact]
    public void Take_FixedThreshold_IsThatOfThePerson()
    {
        var recorder = MadeCuts.Recorder(new LoadSettings { Threshold = 5.5 });
        Assert.Equal(5.5, recorder.Take(MadeCuts.Evidence(_cuts.Next()))[0].Assessment.Threshold);
    }

    [Fact]
    public void Take_JobsTakeTurns_NoneIsUnusual()
    {
        var assessments = new List<LoadAssessment>();
        for (var i = 0; i < 400; i++)
        {
            // Both jobs of the same size, of which the other material's model is off by a quarter.
            _cuts.Job = i / 8 % 2 == 0 ? "J-1" : "J-3";
            assessments.Add(Take(_cuts.Next(extra: _cuts.Job == "J-3" ? 0.25 : 0)).Assessment);
        }

        Assert.InRange(assessments.Skip(100).Count(a => a.Score >= 3), 0, 3);
        Assert.InRange(assessments.Count(a => !a.Accepted), 0, 6);
    }

    [Fact]
    public void Take_SameEvidenceAgain_GivesTheSame()
    {
        List<CutEvidence> evidence = [.. _cuts.Several(150).Select(cut => MadeCuts.Evidence(cut))];
        Assert.Equal(Told.Of(evidence.SelectMany(_recorder.Take)), Told.Of(evidence.SelectMany(MadeCuts.Recorder().Take)));
    }

    // What is expected of the level, looked at without leaving a trace.
    private double LevelExpected()
    {
        var copy = MadeCuts.Recorder();
        copy.Restore(_recorder.Save());
        var cut = new MadeCuts(9) { Now = _cuts.Now }.Next() with { BarId = "for looking" };
        return copy.Take(MadeCuts.Evidence(cut))[0].Assessment.Views.First(view => view.What == "specific energy").Expected;
    }

    private FinishedCut Take(Cut cut) => Assert.Single(_recorder.Take(MadeCuts.Evidence(cut)));

    private List<FinishedCut> Take(IEnumerable<Cut> cuts) => [.. cuts.Select(Take)];
}
