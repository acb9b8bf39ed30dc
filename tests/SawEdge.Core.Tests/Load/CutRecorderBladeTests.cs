using SawEdge.Core.Blades;
using SawEdge.Core.Cycles;

namespace SawEdge.Core.Tests.Load;

/// <summary>Blades in the records: changes that are told, and one that shows in the load alone.</summary>
public sealed class CutRecorderBladeTests
{
    private const double Worn = 0.35;

    private readonly MadeCuts _cuts = new() { Level = Worn };
    private readonly CutRecorder _recorder = MadeCuts.Recorder();

    [Fact]
    public void Take_StepDownAfterAStop_ProposesAChangeAndReissuesTheRecords()
    {
        _cuts.Settle(_recorder);
        _cuts.Pause(20).Level = 0;
        var first = Take(_cuts.Next());
        Assert.False(_recorder.IsSettled);
        var second = Take(_cuts.Next());
        var third = Take(_cuts.Next());

        Assert.Equal([Assert.Single(first).Record.CycleId, Assert.Single(second).Record.CycleId], third.SkipLast(1).Select(cut => cut.Record.CycleId));
        Assert.Equal("", first[0].Record.Blade);
        Assert.All(third, cut => Assert.Equal(third[0].Record.Blade, cut.Record.Blade));
        Assert.NotEqual("", third[0].Record.Blade);
        Assert.Equal([0.012, 0.024, 0.036], third.Select(cut => cut.Record.BladeAreaM2));
        Assert.Equal(BladeOrigin.Proposed, _recorder.Blades[^1].Origin);
        Assert.Equal(third[0].Evidence.Cut.StartedAt, _recorder.Blades[^1].FirstCutAt);
        Assert.True(_recorder.IsSettled);

        // With the new blade what they show is nothing unusual any more.
        Assert.True(first[0].Record.ScoreLevel > third[0].Record.ScoreLevel);
        Assert.InRange(Take(_cuts.Several(30)).Count(cut => cut.Assessment.Accepted), 27, 30);
    }

    [Fact]
    public void Take_StepDownThatAPersonDenied_KeepsTheBlade()
    {
        _cuts.Settle(_recorder);
        _recorder.Entries = new BladeBook([new BladeEntry(1, "Saw 1", _cuts.Now.AddMinutes(5), BladeEntryKind.NoChange, "")]);
        _cuts.Pause(20).Level = 0;
        var after = Take(_cuts.Several(10));
        Assert.Equal(10, after.Count);
        Assert.All(after, cut => Assert.Equal("", cut.Record.Blade));
        Assert.Single(_recorder.Blades);
    }

    [Fact]
    public void Take_ChangeThatAPersonEntered_IsNotProposedOnTop()
    {
        _cuts.Settle(_recorder);
        _recorder.Entries = new BladeBook([new BladeEntry(1, "Saw 1", _cuts.Now.AddMinutes(5), BladeEntryKind.Change, "N-1")]);
        _cuts.Pause(20).Level = 0;
        var after = Take(_cuts.Several(10));
        Assert.Equal(10, after.Count);
        Assert.All(after, cut => Assert.Equal("N-1", cut.Record.Blade));
        Assert.Equal(["", "N-1"], _recorder.Blades.Select(blade => blade.Blade));
        Assert.True(after[0].Record.ScoreLevel < 3);
    }

    [Fact]
    public void Take_StepDownWithoutAStop_IsNoChange()
    {
        _cuts.Settle(_recorder);
        _cuts.Level = 0;
        var after = Take(_cuts.Several(10));
        Assert.Equal(10, after.Count);
        Assert.Single(_recorder.Blades);
        Assert.True(after[0].Record.ScoreLevel > 3);
        Assert.Contains(after[0].Assessment.Causes, cause => cause.Name == "easier_than_expected");
    }

    [Theory]
    [InlineData(Worn)]
    [InlineData(Worn + 0.3)]
    public void Take_StopWithoutAStepDown_IsNoChange(double level)
    {
        _cuts.Settle(_recorder);
        _cuts.Pause(20).Level = level;
        var after = Take(_cuts.Several(12));
        Assert.Equal(12, after.Count);
        Assert.Single(_recorder.Blades);
        Assert.True(_recorder.IsSettled);
    }

    [Fact]
    public void Take_OneEasyBarAfterAStop_IsNoChangeWhereItsCutsDisagree()
    {
        _cuts.Settle(_recorder);
        _cuts.Pause(20);
        Take(_cuts.Next(extra: -Worn));
        Take(_cuts.Next(extra: -Worn));
        Assert.Equal(10, Take(_cuts.Several(10)).Count);
        Assert.Single(_recorder.Blades);
    }

    [Fact]
    public void Take_ControllerNamesAnotherBlade_IsChangedAtThatCut()
    {
        _cuts.BladeId = "K-1";
        Take(_cuts.Several(120));
        (_cuts.BladeId, _cuts.Level) = ("K-2", 0);
        var after = Take(_cuts.Pause(20).Several(60));
        Assert.Equal(60, after.Count);
        Assert.All(after, cut => Assert.Equal("K-2", cut.Record.Blade));
        Assert.Equal([BladeOrigin.Controller, BladeOrigin.Controller], _recorder.Blades.Select(blade => blade.Origin));
        Assert.Equal(0.72, _recorder.Blades[^1].AreaCm2!.Value / 10_000, 1e-9);
        Assert.NotNull(_recorder.Blades[^1].Reference);
        Assert.NotNull(after[^1].Assessment.Wear);

        // The worn one comes back, and is known.
        (_cuts.BladeId, _cuts.Level) = ("K-1", Worn);
        var back = Take(_cuts.Several(5));
        Assert.All(back, cut => Assert.True(cut.Assessment.Accepted, cut.Assessment.Why));
        Assert.Equal(0.012 * 121, back[0].Record.BladeAreaM2!.Value, 1e-5);
        Assert.Equal(Math.Exp(Worn) - 1, back[^1].Assessment.Wear!.Rise, 0.15);
    }

    [Fact]
    public void Take_BladeThatWears_IsDueWhenItIsDull()
    {
        _cuts.BladeId = "K-0";
        Take(_cuts.Several(80));
        (_cuts.BladeId, _cuts.Level) = ("K-1", 0);
        var due = -1;
        for (var i = 0; i < 400; i++)
        {
            // Dull (a rise of a quarter) at 250 cuts, which are 3 m2.
            _cuts.Level = Math.Log(1.25) * i / 250;
            var wear = Take(_cuts.Next())[0].Assessment.Wear;
            if (due < 0 && wear is { IsDue: true })
                due = i;
            if (i == 180)
                Assert.InRange(wear!.CutsLeft!.Value, 30, 130);
        }

        Assert.InRange(due, 200, 290);
    }

    [Fact]
    public void Save_WhileAChangeIsLookedAt_SaysFromWhereToTakeAgain()
    {
        _cuts.Settle(_recorder);
        Assert.Null(_recorder.Save().TakeAgainFrom);
        _cuts.Pause(20).Level = 0;
        List<Cut> after = [.. _cuts.Several(4)];
        Take(after.Take(2));
        var memory = _recorder.Save();
        Assert.Equal(after[0].StartedAt, memory.TakeAgainFrom);

        var again = MadeCuts.Recorder();
        again.Restore(memory);
        var restarted = after.SelectMany(cut => again.Take(MadeCuts.Evidence(cut))).ToList();
        var third = _recorder.Take(MadeCuts.Evidence(after[2]));
        Assert.Equal(3, third.Count);
        Assert.Equal(Told.Of([.. third, .. _recorder.Take(MadeCuts.Evidence(after[3]))]), Told.Of(restarted.Skip(2)));
    }

    private IReadOnlyList<FinishedCut> Take(Cut cut) => _recorder.Take(MadeCuts.Evidence(cut));

    private List<FinishedCut> Take(IEnumerable<Cut> cuts) => [.. cuts.SelectMany(Take)];
}
