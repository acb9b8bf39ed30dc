using System.Globalization;
using SawEdge.Core.Alarms;
using SawEdge.Core.Blades;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Core.Signals;
using SawEdge.Core.Tests.Cycles;

namespace SawEdge.Core.Tests.Alarms;

/// <summary>Each rule that holds where a plant writes none: raised by what it is for, gone after it, and silent in ordinary operation.</summary>
public sealed class DefaultRulesTests
{
    // What is looked at each second: "value*seconds" one after the other; then what comes (+) and goes (-) in which second.
    public static TheoryData<string, string, string> Looks => new()
    {
        { "controller_fault", "0*60 17*300 0*60", "30- 120+ 390-" },
        { "controller_fault", "0*60 17*59 0*60", "30-" },
        { "source_disconnected", "0*20 0..130 0*60", "15- 141+ 166-" },
        { "source_disconnected", "0*20 0..120 0*20 0..120 0*20", "15-" },
        { "saw_silent", "0*10 0..700 0*10", "0- 611+ 711-" },
        { "saw_silent", "0*10 0..600 0*10", "0-" },
        { "signal_stale", "0*60 0..400 0*100", "60- 361+ 521-" },
        { "signal_stale", "0*60 0..300 0*100", "60-" },
        { "frames_lost", "0*60 40*600 0*60", "0- 120+ 660-" },
        { "frames_lost", "0*60 40*59 0*60", "0-" },
        { "history_trouble", "0*60 1*60 0*60", "30- 90+ 150-" },
        { "history_trouble", "0*60 1*20 0*60", "30-" },
        { "history_damaged", "0*5 1*100 0*5", "0- 5+ 105-" },
        { "clock_trouble", "0*5 1*100 0*5", "0- 5+ 105-" },
        { "disk_low", "2000*60 400*90 900*60 1500*60", "0- 120+ 210-" },
        { "disk_low", "2000*60 501*600", "0-" },
        { "history_budget", "0.8*120 0.97*200 0.93*300 0.89*100", "60- 180+ 680-" },
        { "history_budget", "0.8*120 0.96*59 0.94*600", "60-" },
        { "history_full", "0.97*120 1.01*4000 0.97*100", "60- 3720+ 4180-" },
        { "history_full", "0.97*120 1.01*3599 0.99*600", "60-" },
        { "delivery_trouble", "0*120 1*1000 0*120", "60- 1020+ 1180-" },
        { "delivery_trouble", "0*120 1*890 0*120", "60-" },
        { "destination_refuses", "0*120 1*100 0*120", "0- 180+ 220-" },
        { "destination_refuses", "0*120 1*59 0*120", "0-" },
        { "points_refused", "0*5 3*100 0*5", "0- 5+ 105-" },
        { "channel_trouble", "0*120 1*700 0*120", "60- 720+ 880-" },
        { "channel_trouble", "0*120 1*590 0*120", "60-" },
        { "messages_refused", "0*5 1*100 0*5", "0- 5+ 105-" },
    };

    [Fact]
    public void All_EveryRule_SaysWhatItCanKnow()
    {
        Assert.Equal(DefaultRules.All.Count, DefaultRules.All.Select(rule => rule.Name).Distinct().Count());
        Assert.All(DefaultRules.All, rule =>
        {
            Assert.Empty(rule.Text.Names.Except(AlarmFacts.NamesFor(rule.Variable)));
            Assert.True(rule.Text.Names.Intersect(["saw", "subject"]).Any(), rule.Name);
            Assert.EndsWith(".", rule.MayBe, StringComparison.Ordinal);
            Assert.DoesNotContain(rule.Variable.Topic, new[] { AlarmTopic.Oee });
            Assert.False(rule.Latch);
        });
    }

    // Whoever goes to a machine because of it is told what to take care of.
    [Fact]
    public void All_RulesAboutASawOrItsSource_CarryACaution() =>
        Assert.All(DefaultRules.All, rule => Assert.Equal(rule.Variable.Topic != AlarmTopic.Gateway, rule.Caution.Length > 0));

    // 80/15/5 of three levels is the benchmark for what comes, not for what there is; still no more than these may be urgent.
    [Fact]
    public void All_UrgentRules_AreFew() =>
        Assert.Equal(["blade_gone", "history_damaged", "history_trouble", "stall"], DefaultRules.All.Where(rule => rule.Severity == AlarmSeverity.High).Select(rule => rule.Name).Order(StringComparer.Ordinal));

    // The device is told of before what is behind it, and what is behind it counts as back before the device does.
    [Fact]
    public void All_SilenceBehindADevice_ComesLaterAndGoesSooner()
    {
        var (source, saw) = (Rule("source_disconnected"), Rule("saw_silent"));
        Assert.True(source.Silences);
        Assert.True(source.Test.Limit + source.OnDelay.TotalSeconds + 60 <= saw.Test.Limit + saw.OnDelay.TotalSeconds);
        Assert.True(saw.OffDelay < source.OffDelay);
    }

    [Fact]
    public void All_Findings_HaveARuleEachWithTheWordsOfTheirCause()
    {
        foreach (var kind in Enum.GetValues<LiveFindingKind>())
        {
            var rule = Rule(kind.ToName());
            var (_, mayBe, caution) = CauseTable.Of(kind);
            Assert.Equal((mayBe, caution), (rule.MayBe, rule.Caution));
        }
    }

    [Theory]
    [MemberData(nameof(Looks))]
    public void Push_WhatIsLookedAtEachSecond_ComesAndGoes(string name, string looks, string expected)
    {
        var watch = new RuleWatch(Rule(name));
        var (second, told) = (0, new List<string>());
        foreach (var value in looks.Split(' ').SelectMany(Values))
        {
            if (watch.Push(SawScript.At(second), value))
                told.Add($"{second}{(watch.Holds == true ? "+" : "-")}");
            second++;
        }

        Assert.Equal(expected, string.Join(' ', told));
    }

    [Fact]
    public void Push_FaultCodeInTheFrames_IsToldWithTheCode()
    {
        var watch = new SawAlarmWatch("Saw 1", DefaultRules.All);
        var changes = new List<ConditionChange>();
        foreach (var frame in new SawScript().Wait(40).Fault(17).Wait(120).Fault(0).Wait(60).Frames(0.2, [Signal.FaultCode, Signal.MotorLoad, Signal.Job]))
        {
            watch.Push(frame, CyclePhase.Stopped, 2);
            changes.AddRange(watch.Drain());
        }

        Assert.Equal("-controller_fault +controller_fault -controller_fault", changes.Words());
        Assert.Equal("Saw 1: the controller has reported fault code 17 for a minute.", Text(changes[1]));
    }

    [Theory]
    [InlineData(LiveFindingKind.BladeGone)]
    [InlineData(LiveFindingKind.Stall)]
    [InlineData(LiveFindingKind.Overload)]
    [InlineData(LiveFindingKind.NoContact)]
    [InlineData(LiveFindingKind.LoadAfterBreakthrough)]
    [InlineData(LiveFindingKind.FrozenSignal)]
    public void Take_Finding_ComesOnceAndGoesWithTheNextGoodCut(LiveFindingKind kind)
    {
        var watch = new SawAlarmWatch("Saw 1", DefaultRules.All);
        for (var n = 1; n <= 5; n++)
            watch.Take(MadeRules.Cut(n), MadeRules.Normal);
        Assert.DoesNotContain(watch.Drain(), change => change.Holds);
        var finding = MadeRules.Finding(kind, MadeRules.Cut(6).StartedAt.AddSeconds(20));
        watch.Take(finding);
        watch.Take(MadeRules.Cut(6) with { Outcome = CutOutcome.Aborted }, MadeRules.Unusual with { Findings = [finding] });
        var change = Assert.Single(watch.Drain());
        Assert.True(change.Holds);
        Assert.Equal($"Saw 1: Seen: {kind.ToName()}.", Text(change));
        watch.Take(MadeRules.Cut(7), MadeRules.Normal);
        Assert.Equal($"-{kind.ToName()}", watch.Drain().Words());
    }

    [Fact]
    public void Take_UnusualCutsAmongNormalOnes_AreOneAlarm()
    {
        var watch = new SawAlarmWatch("Saw 1", DefaultRules.All);
        var told = new List<string>();
        foreach (var (cut, n) in "nnnnuununnnnnu".Select((cut, n) => (cut, n)))
        {
            watch.Take(MadeRules.Cut(n), cut == 'u' ? MadeRules.Unusual : MadeRules.Normal);
            told.AddRange(watch.Drain().Where(change => change.Rule == DefaultRules.UnusualCut).Select(change => $"{n}{(change.Holds ? "+" : "-")}"));
        }

        Assert.Equal("2- 4+ 10- 13+", string.Join(' ', told));
    }

    [Fact]
    public void Take_UnusualCut_ReadsWell()
    {
        var watch = new SawAlarmWatch("Saw 1", DefaultRules.All);
        watch.Take(MadeRules.Cut(1), MadeRules.Unusual);
        Assert.Equal(
            "Saw 1: unusual cut of job J-1, load score 5.5 where 3 is this saw's threshold. The load was 40 % above the rest of the cut at depth 40 to 46 mm.",
            Text(watch.Drain().Single(change => change.Holds)));
    }

    [Fact]
    public void Take_BladeThatWearsOut_IsDueThenDullAndGoneWithAnotherBlade()
    {
        var watch = new SawAlarmWatch("Saw 1", DefaultRules.All);
        var told = new List<ConditionChange>();
        for (var n = 0; n < 60; n++)
        {
            var (blade, left) = n < 50 ? ("B-1", Math.Max(0, 3.0 - (0.1 * n))) : ("B-2", double.NaN);
            var wear = double.IsNaN(left) ? null : new WearForecast { Rise = 0.25 - (0.08 * left), DullRise = 0.25, AreaM2 = 5, SlopePerM2 = 0.05, AreaLeftM2 = left, LowM2 = 0.7 * left, CutsLeft = Math.Floor(left / 0.01), IsDue = left < 1.05 };
            watch.Take(MadeRules.Cut(n) with { Blade = blade, BladeAreaM2 = n < 50 ? 5 + (0.01 * n) : 0.01 * n }, MadeRules.Normal with { Wear = wear });
            told.AddRange(watch.Drain().Where(change => change.Rule.StartsWith("blade_d", StringComparison.Ordinal)));
        }

        // Twenty cuts long nothing, for it was never known to hold; then five cuts in a row that are due, five that are dull.
        Assert.Equal("-blade_due -blade_dull +blade_due +blade_dull -blade_due -blade_dull", told.Words());
        Assert.Equal(["Saw 1-19", "Saw 1-19", "Saw 1-24", "Saw 1-34", "Saw 1-50", "Saw 1-50"], told.Select(change => change.CycleId));
        Assert.StartsWith("Saw 1: blade B-1 will be dull soon. Its specific energy is 0.202 share above its own beginning; area left 0.6 m2, 0.42 m2 at the least; cuts left ", Text(told[2]), StringComparison.Ordinal);
    }

    // A forecast that goes to and fro about the limit: one alarm.
    [Fact]
    public void Take_ForecastThatWavers_IsOneAlarm()
    {
        var watch = new SawAlarmWatch("Saw 1", DefaultRules.All);
        var told = new List<ConditionChange>();
        for (var n = 0; n < 200; n++)
        {
            var left = n < 30 ? 2 : (n % 7) < 5 ? 0.0 : 0.15;
            var wear = new WearForecast { Rise = 0.25, DullRise = 0.25, AreaM2 = 5, SlopePerM2 = 0.05, AreaLeftM2 = left, IsDue = left < 0.1 };
            watch.Take(MadeRules.Cut(n) with { BladeAreaM2 = 5 + (0.01 * n) }, MadeRules.Normal with { Wear = wear });
            told.AddRange(watch.Drain().Where(change => change.Holds));
        }

        Assert.Equal("+blade_due +blade_dull", told.Words());
    }

    private static AlarmRule Rule(string name) => DefaultRules.All.Single(rule => rule.Name == name);

    private static string Text(ConditionChange change)
    {
        var rule = Rule(change.Rule);
        return rule.Text.Fill(AlarmFacts.Of(rule, change), (value, unit) => $"{value.ToString("0.###", CultureInfo.InvariantCulture)} {unit}".TrimEnd());
    }

    private static IEnumerable<double> Values(string looks)
    {
        if (looks.Split("..") is [var first, var last])
            return Enumerable.Range(int.Parse(first, CultureInfo.InvariantCulture), int.Parse(last, CultureInfo.InvariantCulture) + 1).Select(value => (double)value);
        var parts = looks.Split('*');
        return Enumerable.Repeat(double.Parse(parts[0], CultureInfo.InvariantCulture), int.Parse(parts[1], CultureInfo.InvariantCulture));
    }
}
