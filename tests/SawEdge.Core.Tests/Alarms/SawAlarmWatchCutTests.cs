using SawEdge.Core.Alarms;
using SawEdge.Core.Blades;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Core.Tests.Cycles;

namespace SawEdge.Core.Tests.Alarms;

public sealed class SawAlarmWatchCutTests
{
    private static readonly AlarmRule UnusualRule = MadeRules.Rule(AlarmTopic.Cycle, AlarmVariables.Unusual, MadeRules.Is(), "unusual");
    private static readonly AlarmRule BladeGone = MadeRules.Rule(AlarmTopic.Finding, "blade_gone", MadeRules.Is(), "gone");
    private static readonly AlarmRule Slow = MadeRules.Rule(AlarmTopic.Cycle, "cut_time_ratio", MadeRules.Number(AlarmComparison.Above, 1.5, 1.2), "slow") with { Cuts = new CutCount(3, 5, 2) };

    [Fact]
    public void Take_UnusualCut_TellsScoreThresholdCycleAndCause()
    {
        var watch = new SawAlarmWatch("Saw 1", [UnusualRule]);
        watch.Take(MadeRules.Cut(1), MadeRules.Normal);
        watch.Take(MadeRules.Cut(2), MadeRules.Unusual);
        watch.Take(MadeRules.Cut(3), MadeRules.Unusual);
        watch.Take(MadeRules.Cut(4), MadeRules.Normal);
        var changes = watch.Drain();
        Assert.Equal("-unusual +unusual -unusual", changes.Words());
        var came = changes[1];
        Assert.Equal("Saw 1-2", came.CycleId);
        Assert.Equal(MadeRules.Cut(2).EndedAt, came.At);
        Assert.Equal((5.5, 3.0), (came.Value, came.Limit));
        Assert.Equal(("hard_spot", "A hard spot.", "Look at the cut face."), (came.Cause, came.MayBe, came.Caution));
        Assert.Equal("The load was 40 % above the rest of the cut at depth 40 to 46 mm.", came.Facts["evidence"].Text);
        Assert.Equal(("hard_spot", 3.0, "J-1"), (came.Facts["cause"].Text, came.Facts["threshold"].Value, came.Facts["job"].Text));
        Assert.Equal("2026-03-02 06:05:00 UTC", came.Facts["ended_at"].Text);
        Assert.Equal(AlarmFact.Number(500, ""), came.Facts["frames"]);
        Assert.False(came.Facts.ContainsKey("material"));
        Assert.Equal("Saw 1-4", changes[2].CycleId);
        Assert.Equal("", changes[2].Cause);
    }

    [Fact]
    public void Take_UnusualCutWithoutAKnownPattern_SaysWhereItStandsOut()
    {
        var watch = new SawAlarmWatch("Saw 1", [UnusualRule]);
        var view = new ViewScore { View = LoadView.Pace, What = "cut time", Value = 0.2, Expected = 0, Spread = 0.03, Statistic = 6.7, PValue = 1e-5, History = 200 };
        watch.Take(MadeRules.Cut(1), new LoadAssessment { Score = 5, Threshold = 3, Views = [view] });
        Assert.Equal("Most unusual is the cut time: 6.7 standard deviations above what was expected.", Assert.Single(watch.Drain()).Facts["evidence"].Text);
    }

    [Fact]
    public void Take_CutWithoutAScore_DoesNotCount()
    {
        var watch = new SawAlarmWatch("Saw 1", [UnusualRule]);
        watch.Take(MadeRules.Cut(1), MadeRules.Unusual);
        watch.Take(MadeRules.Cut(2), null);
        watch.Take(MadeRules.Cut(3), new LoadAssessment { Threshold = 3 });
        Assert.Equal("+unusual", watch.Drain().Words());
    }

    [Fact]
    public void Take_CorrectedCutsThatComeAgain_ArePassedOver()
    {
        var watch = new SawAlarmWatch("Saw 1", [UnusualRule, Slow]);
        for (var n = 1; n <= 3; n++)
            watch.Take(MadeRules.Cut(n), MadeRules.Normal);
        Assert.Equal("-unusual", watch.Drain().Words());
        for (var n = 1; n <= 3; n++)
            watch.Take(MadeRules.Cut(n) with { CutTimeRatio = 2 }, MadeRules.Unusual);
        Assert.Empty(watch.Drain());
        watch.Take(MadeRules.Cut(4), MadeRules.Unusual);
        Assert.Equal("+unusual", watch.Drain().Words());
    }

    // s slow, n normal, d within the deadband, ? no standard known.
    [Theory]
    [InlineData("s s s", "3+")]
    [InlineData("s s ? ? s", "5+")]
    [InlineData("s n s n s", "5+")]
    [InlineData("s n n s n s", "3-")]
    [InlineData("s s s n d n n", "3+ 7-")]
    [InlineData("s s s n ? n", "3+ 6-")]
    [InlineData("n n n", "2-")]
    public void Take_MOfNCuts_ComesAndGoesByItsCount(string cuts, string expected)
    {
        var watch = new SawAlarmWatch("Saw 1", [Slow]);
        var told = new List<string>();
        var words = cuts.Split(' ');
        for (var i = 0; i < words.Length; i++)
        {
            double? ratio = words[i] switch { "s" => 1.6, "n" => 1.1, "d" => 1.3, _ => null };
            watch.Take(MadeRules.Cut(i + 1) with { CutTimeRatio = ratio }, MadeRules.Normal);
            told.AddRange(watch.Drain().Select(change => $"{i + 1}{(change.Holds ? "+" : "-")}"));
        }

        Assert.Equal(expected, string.Join(' ', told));
    }

    [Fact]
    public void Take_TextRules_CountWhatIsKnown()
    {
        var watch = new SawAlarmWatch("Saw 1",
        [
            MadeRules.Rule(AlarmTopic.Cycle, "outcome", MadeRules.Is("aborted", "interrupted"), "broken"),
            MadeRules.Rule(AlarmTopic.Cycle, "likely_cause", MadeRules.Is("dull_blade"), "dull"),
            MadeRules.Rule(AlarmTopic.Cycle, "material", MadeRules.IsNot("C45"), "other"),
        ]);
        watch.Take(MadeRules.Cut(1) with { Outcome = CutOutcome.Aborted, LikelyCause = "dull_blade" }, MadeRules.Normal);
        var changes = watch.Drain();
        Assert.Equal("+broken +dull", changes.Words());
        Assert.Equal("aborted", changes[0].Facts["value"].Text);
        watch.Take(MadeRules.Cut(2) with { LoadScore = null }, MadeRules.Normal);
        Assert.Equal("-broken", watch.Drain().Words());
        watch.Take(MadeRules.Cut(3), MadeRules.Normal);
        Assert.Equal("-dull", watch.Drain().Words());
    }

    [Fact]
    public void Take_Finding_IsToldAtOnceAndGoneWithALaterCutWithoutIt()
    {
        var watch = new SawAlarmWatch("Saw 1", [BladeGone]);
        watch.Take(MadeRules.Cut(1), MadeRules.Normal);
        var finding = MadeRules.Finding(LiveFindingKind.BladeGone, MadeRules.Cut(2).StartedAt.AddSeconds(20));
        watch.Take(finding);
        watch.Take(MadeRules.Cut(2) with { Outcome = CutOutcome.Aborted }, MadeRules.With(finding));
        var changes = watch.Drain();
        Assert.Equal("-gone +gone", changes.Words());
        Assert.Equal(finding.At, changes[1].At);
        Assert.Equal(("blade_gone", "Seen: blade_gone."), (changes[1].Cause, changes[1].Facts["finding"].Text));
        Assert.Equal(AlarmFact.Number(2.5, "kW"), changes[1].Facts["limit"]);
        Assert.Contains("lock out and tag out", changes[1].Caution, StringComparison.Ordinal);
        watch.Take(MadeRules.Cut(3), MadeRules.Normal);
        Assert.Equal("-gone", watch.Drain().Words());
    }

    [Fact]
    public void Take_CutThatCouldNotShowIt_DoesNotClearAFinding()
    {
        var watch = new SawAlarmWatch("Saw 1", [BladeGone]);
        watch.Take(MadeRules.Finding(LiveFindingKind.BladeGone, MadeRules.Cut(2).StartedAt.AddSeconds(20)));
        Assert.Equal("+gone", watch.Drain().Words());

        // A cut from before it that is finished later, one that was given up, one that met no stock, one of which nothing is known.
        watch.Take(MadeRules.Cut(1), MadeRules.Normal);
        watch.Take(MadeRules.Cut(3) with { Outcome = CutOutcome.Aborted }, MadeRules.Normal);
        watch.Take(MadeRules.Cut(4), MadeRules.With(MadeRules.Finding(LiveFindingKind.NoContact, MadeRules.Cut(4).StartedAt.AddSeconds(20))));
        watch.Take(MadeRules.Cut(5), null);
        Assert.Empty(watch.Drain());
        watch.Take(MadeRules.Cut(6) with { Outcome = CutOutcome.Trim }, MadeRules.Normal);
        Assert.Equal("-gone", watch.Drain().Words());
    }

    [Fact]
    public void Take_FindingInTwoOfThreeCuts_IsToldAtTheSecond()
    {
        var watch = new SawAlarmWatch("Saw 1", [MadeRules.Rule(AlarmTopic.Finding, "overload", MadeRules.Is(), "over") with { Cuts = new CutCount(2, 3, 2) }]);
        var told = new List<string>();
        for (var n = 1; n <= 6; n++)
        {
            var finding = MadeRules.Finding(LiveFindingKind.Overload, MadeRules.Cut(n).StartedAt.AddSeconds(20));
            if (n is 1 or 3)
                watch.Take(finding);
            told.AddRange(watch.Drain().Select(change => $"in {n}{(change.Holds ? "+" : "-")}"));
            watch.Take(MadeRules.Cut(n), n is 1 or 3 ? MadeRules.With(finding) : MadeRules.Normal);
            told.AddRange(watch.Drain().Select(change => $"after {n}{(change.Holds ? "+" : "-")}"));
        }

        Assert.Equal(["in 3+", "after 5-"], told);
    }

    // One cause, one alarm.
    [Fact]
    public void Take_UnusualCutWhoseFindingWasTold_IsNotToldAgain()
    {
        var finding = MadeRules.Finding(LiveFindingKind.BladeGone, MadeRules.Cut(1).StartedAt.AddSeconds(20));
        var both = MadeRules.Unusual with { Findings = [finding] };
        var watch = new SawAlarmWatch("Saw 1", [BladeGone, UnusualRule]);
        watch.Take(finding);
        watch.Take(MadeRules.Cut(1), both);
        Assert.Equal("+gone", watch.Drain().Words());

        var alone = new SawAlarmWatch("Saw 1", [UnusualRule]);
        alone.Take(finding);
        alone.Take(MadeRules.Cut(1), both);
        Assert.Equal("+unusual", alone.Drain().Words());
    }

    [Fact]
    public void Warm_CutsBeforeTheRestart_CountAndAreToldByTheNextCutWhereTheyStillHold()
    {
        var watch = new SawAlarmWatch("Saw 1", [Slow, UnusualRule with { Cuts = new CutCount(1, 1, 3) }, BladeGone]);
        Assert.Equal(5, watch.Memory);
        watch.Warm(MadeRules.Cut(1) with { CutTimeRatio = 1.6 }, MadeRules.Normal);
        watch.Warm(MadeRules.Cut(2) with { CutTimeRatio = 1.6 }, MadeRules.Unusual);
        watch.Warm(MadeRules.Cut(3) with { CutTimeRatio = 1.1 }, MadeRules.With(MadeRules.Finding(LiveFindingKind.BladeGone, MadeRules.Cut(3).StartedAt.AddSeconds(20))));
        Assert.Empty(watch.Drain());

        // Comes again corrected: has been counted.
        watch.Take(MadeRules.Cut(3) with { CutTimeRatio = 1.6 }, MadeRules.Unusual);
        Assert.Empty(watch.Drain());
        watch.Take(MadeRules.Cut(4) with { CutTimeRatio = 1.6 }, MadeRules.Normal);
        var changes = watch.Drain();
        Assert.Equal("-gone +slow +unusual", changes.Words());
        Assert.All(changes, change => Assert.Equal("Saw 1-4", change.CycleId));
    }

    [Fact]
    public void Warm_FindingThatStillHolds_IsToldWithWhatWasSeen()
    {
        var watch = new SawAlarmWatch("Saw 1", [BladeGone with { Cuts = new CutCount(1, 1, 2) }]);
        watch.Warm(MadeRules.Cut(1), MadeRules.With(MadeRules.Finding(LiveFindingKind.BladeGone, MadeRules.Cut(1).StartedAt.AddSeconds(20))));
        watch.Take(MadeRules.Cut(2), MadeRules.Normal);
        var change = Assert.Single(watch.Drain());
        Assert.True(change.Holds);
        Assert.Equal("Seen: blade_gone.", change.Facts["finding"].Text);
    }

    [Fact]
    public void Take_BladeRules_FollowTheForecastAndBeginAnewWithAnotherBlade()
    {
        var watch = new SawAlarmWatch("Saw 1",
        [
            MadeRules.Rule(AlarmTopic.Blade, "due", MadeRules.Is(), "due"),
            MadeRules.Rule(AlarmTopic.Blade, "rise", MadeRules.Number(AlarmComparison.Above, 0.2, 0.15), "rise"),
            MadeRules.Rule(AlarmTopic.Blade, "area_left", MadeRules.Number(AlarmComparison.Below, 0.5, 1), "left"),
            MadeRules.Rule(AlarmTopic.Blade, "cuts_left", MadeRules.Number(AlarmComparison.Below, 10), "cuts"),
            MadeRules.Rule(AlarmTopic.Blade, "area", MadeRules.Number(AlarmComparison.Above, 5), "area"),
        ]);
        watch.Take(MadeRules.Cut(1) with { BladeAreaM2 = 2 }, MadeRules.Normal);
        Assert.Equal("-area", watch.Drain().Words());
        watch.Take(MadeRules.Cut(2) with { BladeAreaM2 = 4 }, Worn(0.05, null, null));
        Assert.Equal("-due -rise -left -cuts", watch.Drain().Words());
        watch.Take(MadeRules.Cut(3) with { BladeAreaM2 = 5.5 }, Worn(0.22, 0.4, 8, due: true));
        var changes = watch.Drain();
        Assert.Equal("+due +rise +left +cuts +area", changes.Words());
        Assert.Equal((0.4, 0.5), (changes[2].Value, changes[2].Limit));
        Assert.Equal((AlarmFact.Number(0.22, "share"), AlarmFact.Number(5.5, "m2"), AlarmFact.Number(0.2, "m2"), "B-1"), (changes[0].Facts["rise"], changes[0].Facts["area"], changes[0].Facts["area_left_low"], changes[0].Facts["blade"].Text));

        // Nothing can be said of a new blade yet, but that it is another one.
        watch.Take(MadeRules.Cut(4) with { Blade = "B-2", BladeAreaM2 = 0.01 }, MadeRules.Normal);
        Assert.Equal("-due -rise -left -cuts -area", watch.Drain().Words());
    }

    private static LoadAssessment Worn(double rise, double? left, double? cuts, bool due = false) => MadeRules.Normal with
    {
        Wear = new WearForecast { Rise = rise, DullRise = 0.25, AreaM2 = 5.5, SlopePerM2 = 0.05, AreaLeftM2 = left, LowM2 = left * 0.5, CutsLeft = cuts, IsDue = due },
    };
}
