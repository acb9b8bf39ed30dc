using SawEdge.Core.Cutting;
using SawEdge.Core.Load;
using SawEdge.Core.Tests.Cycles;

namespace SawEdge.Core.Tests.Load;

/// <summary>Each row of the table is the likeliest for the pattern it stands for.</summary>
public sealed class CauseTableTests
{
    public static TheoryData<string> Patterns => [.. Contexts.Keys];

    private static Dictionary<string, Func<CauseContext>> Contexts { get; } = new()
    {
        ["blade_gone"] = () => Found(LiveFindingKind.BladeGone),
        ["stall"] = () => Found(LiveFindingKind.Stall),
        ["overload"] = () => Found(LiveFindingKind.Overload),
        ["no_stock"] = () => Found(LiveFindingKind.NoContact),
        ["load_after_breakthrough"] = () => Found(LiveFindingKind.LoadAfterBreakthrough),
        ["frozen_signal"] = () => Found(LiveFindingKind.FrozenSignal),
        ["wrong_job"] = () => Context(c => c.SectionMisfit = true),
        ["hard_spot"] = () => Context(c => c.Shape = View(LoadView.Shape, "depth 40 to 46 mm", 8)),
        ["loose_stock"] = () => Context(c => c.Shape = View(LoadView.Shape, "depth 40 to 46 mm", -8)),
        ["stripped_teeth"] = () => Context(c => c.Loop = View(LoadView.Loop, "blade loop", 7)),
        ["drag"] = () => Context(c => c.Idle = View(LoadView.Level, "idle load", 7)),
        ["slipping_drive"] = () => Context(c => c.Idle = View(LoadView.Level, "idle load", -7)),
        ["dull_blade"] = () => Context(c => (c.Level, c.Onset) = (View(LoadView.Level, "specific energy", 7), Onset(sudden: false))),
        ["wrong_material"] = () => Context(c => (c.Level, c.Onset) = (View(LoadView.Level, "specific energy", 7), Onset(sudden: true))),
        ["easier_than_expected"] = () => Context(c => (c.Level, c.Onset) = (View(LoadView.Level, "specific energy", -7), Onset(sudden: false))),
        ["feed_starved"] = () => Context(c => c.Pace = View(LoadView.Pace, "cut time", 7)),
        ["feed_too_fast"] = () => Context(c => c.Pace = View(LoadView.Pace, "cut time", -7)),
    };

    [Theory]
    [MemberData(nameof(Patterns))]
    public void Rank_PatternOfARow_IsFirst(string name)
    {
        var causes = CauseTable.Rank(Contexts[name]());
        Assert.Equal(name, causes[0].Name);
        Assert.Equal(1, causes.Sum(cause => cause.Weight), 0.003);
        Assert.Equal(causes.OrderByDescending(cause => cause.Weight).Select(cause => cause.Name), causes.Select(cause => cause.Name));
    }

    [Theory]
    [MemberData(nameof(Patterns))]
    public void Rank_EveryCause_IsWordedInSentencesWithACaution(string name) => Assert.All(CauseTable.Rank(Contexts[name]()), cause =>
    {
        foreach (var words in (string[])[cause.Evidence, cause.MayBe, cause.Caution])
        {
            Assert.EndsWith(".", words, StringComparison.Ordinal);
            Assert.DoesNotContain("NaN", words, StringComparison.Ordinal);
        }

        Assert.InRange(cause.Weight, 0, 1);
    });

    [Fact]
    public void Rank_DullAndSlow_IsADullBladeAndNotAStarvedFeed()
    {
        var context = Context(c =>
        {
            (c.Level, c.Onset) = (View(LoadView.Level, "specific energy", 6), Onset(sudden: false));
            c.Pace = View(LoadView.Pace, "cut time", 5);
        });
        Assert.Equal("dull_blade", CauseTable.Rank(context)[0].Name);
    }

    [Fact]
    public void Rank_NothingUnusual_IsNoCause()
    {
        var context = Context(c => (c.Score, c.Level, c.Pace) = (1.5, View(LoadView.Level, "specific energy", 2), View(LoadView.Pace, "cut time", 2)));
        Assert.Empty(CauseTable.Rank(context));
    }

    [Fact]
    public void Rank_NoScoreAtAll_IsNoCause() => Assert.Empty(CauseTable.Rank(Context(c => c.Score = null)));

    [Fact]
    public void Rank_EnergyWithASection_IsGivenInItsUnit()
    {
        var context = Contexts["dull_blade"]();
        context.MeanEnergy = (4.2, 3.0);
        Assert.Contains("4.20 J/mm3", CauseTable.Rank(context)[0].Evidence, StringComparison.Ordinal);
    }

    private static CauseContext Found(LiveFindingKind kind) =>
        Context(c => c.Score = null, [new LiveFinding(kind, SawScript.Epoch, 1, 2, "Something was seen.")]);

    private static CauseContext Context(Action<CauseContext> set, IReadOnlyList<LiveFinding>? findings = null)
    {
        var cut = new MadeCuts().Next();
        var context = new CauseContext { Findings = findings ?? [], Threshold = 4, Score = 6, Cut = cut, Job = MadeCuts.Jobs.Find(cut.Job), LoopSwing = 0.08, Onset = new OnsetTracker() };
        set(context);
        return context;
    }

    // p of a two-sided normal deviate is near enough here.
    private static ViewScore View(LoadView view, string what, double statistic) => new()
    {
        View = view,
        What = what,
        Value = 0.03 * statistic,
        Expected = 0,
        Spread = 0.03,
        Statistic = statistic,
        PValue = 2 * MathNet.Numerics.Distributions.Normal.CDF(0, 1, -Math.Abs(statistic)),
        History = 500,
    };

    private static OnsetTracker Onset(bool sudden)
    {
        var onset = new OnsetTracker();
        for (var i = 0; i < 12; i++)
            onset.Note("before", sudden ? 0 : 0.017 * i, 0.03, unusual: false);
        for (var i = 0; i < 3; i++)
            onset.Note(sudden ? "hard" : "before", 0.21, 0.03, unusual: true);
        return onset;
    }
}
