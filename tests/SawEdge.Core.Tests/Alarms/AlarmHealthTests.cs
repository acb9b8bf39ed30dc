using SawEdge.Core.Alarms;
using static SawEdge.Core.Tests.Alarms.MadeAlarms;

namespace SawEdge.Core.Tests.Alarms;

/// <summary>
/// The health of the alarms against cases counted by hand. The benchmarks are those of IEC 62682 and ANSI/ISA-18.2 as restated in public
/// repositories (the standards themselves were not read); flood, chattering and standing from memory of ISA-18.2 and EEMUA 191.
/// </summary>
public class AlarmHealthTests
{
    private const int Day = 86400;

    /// <summary>item, value: as the table of the reference restates them.</summary>
    [Fact]
    public void Benchmarks_AreThoseOfTheTable()
    {
        // "alarms per day per operator: about 144 acceptable / about 288 maximum manageable"
        Assert.Equal((144.0, 288.0), (AlarmBenchmarks.AcceptablePerDay, AlarmBenchmarks.ManageablePerDay));
        // "alarms per hour: about 6 / about 12", "alarms per 10 min: about 1 / about 2"
        Assert.Equal((6.0, 12.0, 1.0, 2.0), (AlarmBenchmarks.AcceptablePerHour, AlarmBenchmarks.ManageablePerHour, AlarmBenchmarks.AcceptablePerTenMinutes, AlarmBenchmarks.ManageablePerTenMinutes));
        // "hours with more than 30 alarms < 1 %", "10-min periods with more than 10 alarms < 1 %", "maximum in any 10 min: 10 or less", "time in flood < 1 %"
        Assert.Equal((30, 10, 0.01), (AlarmBenchmarks.ManyInAnHour, AlarmBenchmarks.ManyInTenMinutes, AlarmBenchmarks.RareShare));
        // "flood start / end: starts above 10 alarms in 10 min, ends below 5 in 10 min" (memory: ISA-18.2 clause 16; ISA-TR18.2.5)
        Assert.Equal((10, 5), (AlarmBenchmarks.FloodFrom, AlarmBenchmarks.FloodUntil));
        // "top 10 most frequent alarms: 1 % to 5 % of load at most", "stale: fewer than 5 on any day"
        Assert.Equal((0.05, 5), (AlarmBenchmarks.TopTenShare, AlarmBenchmarks.StandingOnADay));
        // "stale definition: active more than 24 h", "chattering: 3 or more in 1 min" (memory: ISA-18.2, EEMUA 191)
        Assert.Equal((TimeSpan.FromHours(24), 3, TimeSpan.FromMinutes(1)), (AlarmBenchmarks.StandingAfter, AlarmBenchmarks.ChatterFrom, AlarmBenchmarks.ChatterWithin));
        // "priority split 3 levels: 80/15/5 low/medium/high"
        Assert.Equal([0.80, 0.15, 0.05], AlarmBenchmarks.SeveritySplit);
    }

    [Fact]
    public void Of_NoAlarms_AllIsWell()
    {
        var health = AlarmHealth.Of([], [], At(0), At(Day));

        Assert.DoesNotContain(false, health.Figures.Select(figure => figure.IsWithin));
        Assert.Equal(0, Figure(health, "alarms_per_day").Value);
        Assert.Equal("There were no alarms.", Figure(health, "top_10_share").Sentence);
        Assert.Equal("Nobody has said of any alarm whether it was right.", Figure(health, "confirmed_of_judged").Sentence);
    }

    [Fact]
    public void Of_TwoDays_RatesAreAverages()
    {
        // 300 alarms in two days, one each 576 s: 150 a day, 6.25 an hour, 1.04 in ten minutes.
        var health = AlarmHealth.Of(Made(Enumerable.Range(0, 300).Select(n => n * 576.0)), [], At(0), At(2 * Day));

        Assert.Equal((150, false), (Figure(health, "alarms_per_day").Value, Figure(health, "alarms_per_day").IsWithin));
        Assert.Equal(6.25, Figure(health, "alarms_per_hour").Value, 9);
        Assert.Equal(150.0 / 144, Figure(health, "alarms_per_10_min").Value, 9);
        Assert.Equal((2, true), (Figure(health, "worst_10_min").Value, Figure(health, "worst_10_min").IsWithin));
        Assert.Equal("150 alarms a day; about 144 are acceptable, about 288 are the most that one person can manage.", Figure(health, "alarms_per_day").Sentence);
    }

    [Fact]
    public void Of_AFlood_FromTheEleventhUntilFewerThanFiveAreLeft()
    {
        // Twenty alarms, one each 30 s from 0 to 570 s: the eleventh at 300 s. The sixteenth (450 s) leaves the last ten minutes at 1050 s: four are left.
        var health = AlarmHealth.Of(Made(Enumerable.Range(0, 20).Select(n => n * 30.0)), [], At(0), At(Day));

        Assert.Equal((1050.0 - 300) / Day, Figure(health, "time_in_flood").Value, 12);
        Assert.Equal((20, false), (Figure(health, "worst_10_min").Value, Figure(health, "worst_10_min").IsWithin));
        Assert.Equal(1.0 / 144, Figure(health, "periods_10_min_above_10").Value, 12);
        Assert.True(Figure(health, "periods_10_min_above_10").IsWithin);
        Assert.Equal(0, Figure(health, "hours_above_30").Value);
    }

    [Fact]
    public void Of_AFloodAtTheEnd_LastsUntilThere()
    {
        var health = AlarmHealth.Of(Made(Enumerable.Range(0, 11).Select(n => 3000.0 + n)), [], At(0), At(3600));

        Assert.Equal(590.0 / 3600, Figure(health, "time_in_flood").Value, 12);
    }

    [Fact]
    public void Of_TenInTenMinutes_IsNoFlood()
    {
        var health = AlarmHealth.Of(Made(Enumerable.Range(0, 11).Select(n => n * 60.0)), [], At(0), At(3600));

        Assert.Equal((0, 10), (Figure(health, "time_in_flood").Value, Figure(health, "worst_10_min").Value));
    }

    [Fact]
    public void Of_BusyHours_AreCounted()
    {
        // 31 in the second of four hours, 30 in the third.
        var health = AlarmHealth.Of(Made([.. Enumerable.Range(0, 31).Select(n => 3600.0 + (n * 100)), .. Enumerable.Range(0, 30).Select(n => 7200.0 + (n * 100))]), [], At(0), At(4 * 3600));

        Assert.Equal((0.25, false), (Figure(health, "hours_above_30").Value, Figure(health, "hours_above_30").IsWithin));
    }

    [Fact]
    public void Of_SomeRules_TheMostFrequentFirst()
    {
        var board = new AlarmBoard([.. Enumerable.Range(0, 12).Select(n => Rule($"rule-{n:00}"))], Settings);
        for (var rule = 0; rule < 12; rule++)
        {
            // Rule n comes n + 1 times, ten minutes apart: 78 in all.
            for (var n = 0; n <= rule; n++)
                Through(board, $"rule-{rule:00}", n * 600.0, 300);
        }

        var health = AlarmHealth.Of(board.Drain(), [], At(0), At(Day));

        Assert.Equal(78, health.Announced);
        Assert.Equal(["rule-11", "rule-10", "rule-09", "rule-08", "rule-07", "rule-06", "rule-05", "rule-04", "rule-03", "rule-02"], health.MostFrequent.Select(alarm => alarm.Rule));
        Assert.Equal((12, 12.0 / 78), (health.MostFrequent[0].Count, health.MostFrequent[0].Share));
        Assert.Equal((75.0 / 78, null), (Figure(health, "top_10_share").Value, Figure(health, "top_10_share").IsWithin));
        Assert.EndsWith(", which says little for fewer than 100 alarms.", Figure(health, "top_10_share").Sentence, StringComparison.Ordinal);
    }

    [Fact]
    public void Of_ChatteringFleetingAndCalm_EachIsToldApart()
    {
        var board = new AlarmBoard([Rule("chatters"), Rule("flits"), Rule("calm")], Settings);
        foreach (var second in new[] { 0, 20, 40 })
        {
            board.Take(Comes(second, "chatters"));
            board.Take(Goes(second + 5, "chatters"));
        }

        Through(board, "flits", 0, 59);
        Through(board, "flits", 1000, 10);
        Through(board, "calm", 0, 60);

        var health = AlarmHealth.Of(board.Drain(), [], At(0), At(Day));

        Assert.Equal(("chatters", 3), (Assert.Single(health.Chattering).Rule, health.Chattering[0].Count));
        Assert.Equal(("flits", 2), (Assert.Single(health.Fleeting).Rule, health.Fleeting[0].Count));
        Assert.Equal((2, false), (Figure(health, "chattering_and_fleeting").Value, Figure(health, "chattering_and_fleeting").IsWithin));
    }

    [Fact]
    public void Of_WhatNobodyWasShown_DoesNotCount()
    {
        var board = new AlarmBoard([Rule(), Rule("silent", silences: true), Rule("off")], Settings);
        board.Take(About(AlarmAction.TakeOutOfService, "off"), At(0));
        board.Take(Comes(1, "silent"));
        board.Take(Comes(2));
        board.Take(Comes(3, "off"));
        Assert.Equal(3, board.Open.Count);

        Assert.Equal(1, AlarmHealth.Of(board.Drain(), board.Open, At(0), At(Day)).Announced);
    }

    [Fact]
    public void Of_Standing_ThoseOfTheWorstDay()
    {
        Alarm Made(long number, double raised, double? cleared) => new()
        {
            Number = number,
            Rule = "load",
            Subject = Saw,
            Severity = AlarmSeverity.Low,
            RaisedAt = At(raised),
            ClearedAt = cleared is { } end ? At(end) : null,
            State = cleared is null ? AlarmState.Unacknowledged : AlarmState.ReturnedUnacknowledged,
            IsActive = cleared is null,
        };
        Alarm[] alarms =
        [
            Made(1, -5 * Day, null),
            Made(2, -Day, 10),
            Made(3, -Day, 0),
            Made(4, 0, Day),
            Made(5, 0, Day + 1),
            Made(6, 2.5 * Day, null),
            Made(7, -5 * Day, null) with { State = AlarmState.OutOfService },
        ];

        var health = AlarmHealth.Of([], alarms, At(0), At(3 * Day));

        // 1 all the time; 2 on the first day for 10 s; 5 on the second for a second; 3 and 4 for a day and no longer; 6 not yet; 7 is put aside.
        Assert.Equal([1, 2, 5], health.Standing.Select(alarm => alarm.Number));
        Assert.Equal((2, true), (Figure(health, "standing").Value, Figure(health, "standing").IsWithin));
    }

    [Fact]
    public void Of_Judged_ShareOfThoseThatWereRight()
    {
        var alarms = Enumerable.Range(1, 5).Select(n => new Alarm
        {
            Number = n,
            Rule = "load",
            Subject = Saw,
            Severity = AlarmSeverity.Low,
            RaisedAt = At(n),
            State = AlarmState.Unacknowledged,
            IsActive = true,
            Verdict = n switch { 1 or 2 or 3 => AlarmVerdict.Confirmed, 4 => AlarmVerdict.Rejected, _ => AlarmVerdict.None },
        });

        var figure = Figure(AlarmHealth.Of([], alarms, At(0), At(Day)), "confirmed_of_judged");

        Assert.Equal((0.75, null, "Of 4 that somebody judged 3 were right (75 %)."), (figure.Value, figure.IsWithin, figure.Sentence));
    }

    [Fact]
    public void Of_Severities_AgainstTheSplit()
    {
        var board = new AlarmBoard([Rule("low") with { Severity = AlarmSeverity.Low }, Rule("medium"), Rule("high") with { Severity = AlarmSeverity.High }], Settings);
        for (var n = 0; n < 200; n++)
            Through(board, n < 160 ? "low" : n < 188 ? "medium" : "high", n * 400.0, 200);

        var health = AlarmHealth.Of(board.Drain(), [], At(0), At(Day));

        Assert.Equal([(0.80, true), (0.14, true), (0.06, false)], new[] { "severity_low", "severity_medium", "severity_high" }.Select(name => (Figure(health, name).Value, Figure(health, name).IsWithin!.Value)));
        Assert.Equal("6 % were of high severity; about 5 % or less is advised.", Figure(health, "severity_high").Sentence);
        Assert.False(Figure(health, "top_10_share").IsWithin);
    }

    [Fact]
    public void Of_OutsideOfThePeriod_IsPassedOver()
    {
        var health = AlarmHealth.Of(Made([-1, 0, 3599, 3600]), [], At(0), At(3600));

        Assert.Equal(2, health.Announced);
        Assert.Throws<ArgumentException>(() => AlarmHealth.Of([], [], At(1), At(1)));
    }

    private static HealthFigure Figure(AlarmHealth health, string name) => health.Figures.Single(figure => figure.Name == name);

    /// <summary>An alarm that comes, is acknowledged and goes.</summary>
    private static void Through(AlarmBoard board, string rule, double at, double length)
    {
        board.Take(Comes(at, rule));
        Assert.Null(board.Take(About(AlarmAction.Acknowledge, rule), At(at + 1)));
        board.Take(Goes(at + length, rule));
    }

    /// <summary>The events of alarms that come at the given seconds, each about a saw of its own.</summary>
    private static List<AlarmEvent> Made(IEnumerable<double> seconds)
    {
        var board = new AlarmBoard([Rule()], Settings);
        foreach (var (index, second) in seconds.Index())
            board.Take(Comes(second, about: AlarmSubject.Saw($"s{index}")));
        return board.Drain();
    }
}
