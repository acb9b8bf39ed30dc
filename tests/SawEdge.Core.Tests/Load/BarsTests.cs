using MathNet.Numerics.Distributions;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;

namespace SawEdge.Core.Tests.Load;

/// <summary>Bars: which one a cut is from, what several say together, and how an unusual level began.</summary>
public sealed class BarsTests
{
    private const double SigmaBar = 0.03;
    private const double SigmaCut = 0.02;

    [Fact]
    public void With_OneBar_SaysNothing()
    {
        var runs = new BarRuns();
        for (var i = 0; i < 10; i++)
        {
            Assert.Equal(0, runs.With("b", 0.5, SigmaBar, SigmaCut, 0));
            runs.Add("b", 0.5);
        }
    }

    [Theory]
    [InlineData(1)]
    [InlineData(-1)]
    public void With_ChangeThatLasts_GrowsWithEveryBar(int sign)
    {
        var (runs, before) = (new BarRuns(), 0.0);
        for (var bar = 0; bar < 6; bar++)
        {
            var z = 0.0;
            for (var i = 0; i < 5; i++)
            {
                z = runs.With($"b{bar}", sign * 0.06, SigmaBar, SigmaCut, 0);
                runs.Add($"b{bar}", sign * 0.06);
            }

            Assert.True(bar == 0 || sign * z > before);
            before = sign * z;
        }

        // Each bar lies 0.06 / sqrt(0.03^2 + 0.02^2 / 5) = 1.91 out, six together sqrt(6) times that.
        Assert.Equal(1.911 * Math.Sqrt(6), before, 0.02);
    }

    [Fact]
    public void With_ScatterOfBars_IsSeldomFarOut()
    {
        var (runs, random, far) = (new BarRuns(), new Random(4), 0);
        for (var bar = 0; bar < 2000; bar++)
        {
            var offset = Normal.Sample(random, 0, SigmaBar);
            var z = 0.0;
            for (var i = 0; i < 5; i++)
            {
                var deviation = offset + Normal.Sample(random, 0, SigmaCut);
                z = runs.With($"b{bar}", deviation, SigmaBar, SigmaCut, 0);
                runs.Add($"b{bar}", deviation);
            }

            far += Math.Abs(z) > 3 ? 1 : 0;
        }

        // The greatest of seven normal values that go together exceeds 3 in 0.27 to 1.9 % of cases.
        Assert.InRange(far, 2, 38);
    }

    [Fact]
    public void With_UnsureExpectation_SaysLess()
    {
        var runs = new BarRuns();
        for (var bar = 0; bar < 5; bar++)
            runs.Add($"b{bar}", 0.06);
        Assert.True(runs.With("b5", 0.06, SigmaBar, SigmaCut, 0.05) < 0.5 * runs.With("b5", 0.06, SigmaBar, SigmaCut, 0));
    }

    [Fact]
    public void Clear_ForgetsTheRun()
    {
        var runs = new BarRuns();
        for (var bar = 0; bar < 5; bar++)
            runs.Add($"b{bar}", 0.06);
        runs.Clear();
        Assert.Equal(0, runs.With("b5", 0.06, SigmaBar, SigmaCut, 0));
    }

    [Fact]
    public void Restore_Runs_GoOnBitForBit()
    {
        var (runs, again) = (new BarRuns(), new BarRuns());
        for (var i = 0; i < 50; i++)
            runs.Add($"b{i / 4}", 0.001 * i);
        again.Restore(Stored.Read(runs.Save));
        for (var i = 48; i < 60; i++)
        {
            Assert.Equal(runs.With($"b{i / 4}", 0.03, SigmaBar, SigmaCut, 0.01), again.With($"b{i / 4}", 0.03, SigmaBar, SigmaCut, 0.01));
            runs.Add($"b{i / 4}", 0.03);
            again.Add($"b{i / 4}", 0.03);
        }
    }

    [Fact]
    public void BarOf_ControllerNamesIt_IsThat()
    {
        var bars = new BarTracker();
        Assert.Equal("bar 1-0", bars.BarOf(new MadeCuts().Next()));
        Assert.False(bars.IsGuessed);
    }

    [Fact]
    public void BarOf_NobodyNamesIt_ChangesWithTrimCutOrPause()
    {
        var (bars, cuts) = (new BarTracker(), new MadeCuts());
        string Bar(CutOutcome outcome = CutOutcome.Completed) => bars.BarOf(cuts.Next() with { BarId = "", Outcome = outcome });
        var first = Bar();
        Assert.StartsWith("~", first, StringComparison.Ordinal);
        Assert.True(bars.IsGuessed);
        Assert.Equal(first, Bar());
        var second = Bar(CutOutcome.Trim);
        Assert.NotEqual(first, second);
        Assert.Equal(second, Bar());
        cuts.Pause(3);
        var third = Bar();
        Assert.NotEqual(second, third);

        var again = new BarTracker();
        again.Restore(Stored.Read(bars.Save));
        bars = again;
        Assert.Equal(third, Bar());
    }

    [Fact]
    public void Note_JumpAtABar_IsSuddenAndEndsWithIt()
    {
        var onset = Usual();
        for (var i = 0; i < 5; i++)
            onset.Note("hard", 0.4, 0.03, unusual: true);
        Assert.Equal((5, 1, true, true), (onset.Run, onset.Bars, onset.AtBar, onset.Sudden));
        Assert.True(onset.Rise > 0.1);
        onset.Note("next", 0, 0.03, unusual: false);
        Assert.Equal((0, 0), (onset.Run, onset.Bars));
    }

    [Fact]
    public void Note_CreepUpInABar_IsNeitherSuddenNorAtABar()
    {
        var onset = Usual();
        for (var i = 1; i <= 20; i++)
            onset.Note($"bar {i / 8}", 0.01 * i, 0.03, unusual: i > 10);
        Assert.Equal((10, 2, false, false), (onset.Run, onset.Bars, onset.AtBar, onset.Sudden));
        var again = new OnsetTracker();
        again.Restore(Stored.Read(onset.Save));
        Assert.Equal(Stored.Bytes(onset.Save), Stored.Bytes(again.Save));
        Assert.Equal((10, 2, false, false, onset.Rise), (again.Run, again.Bars, again.AtBar, again.Sudden, again.Rise));
        onset.Clear();
        Assert.Equal((0, 0, 0.0), (onset.Run, onset.Bars, onset.Rise));
    }

    private static OnsetTracker Usual()
    {
        var onset = new OnsetTracker();
        for (var i = 0; i < 12; i++)
            onset.Note($"u{i / 6}", i % 2 == 0 ? 0.01 : -0.01, 0.03, unusual: false);
        return onset;
    }
}
