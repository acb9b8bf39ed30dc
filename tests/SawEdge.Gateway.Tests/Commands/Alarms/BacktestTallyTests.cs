using SawEdge.Core.Alarms;
using SawEdge.Gateway.Commands.Alarms.Backtest;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Commands.Alarms;

public sealed class BacktestTallyTests
{
    private static readonly DateTimeOffset Start = Occurrences.Start;

    [Fact]
    public void Worst_IsTheMostWithinAnyTenMinutes_TheEndNotCounted()
    {
        static DateTimeOffset[] At(params double[] minutes) => [.. minutes.Select(minute => Start.AddMinutes(minute))];

        Assert.Equal((0, null), BacktestTally.Worst([]));
        Assert.Equal((1, Start), BacktestTally.Worst(At(0, 10, 20)));
        Assert.Equal((2, Start), BacktestTally.Worst(At(0, 9.99, 20)));
        Assert.Equal((3, Start.AddMinutes(30)), BacktestTally.Worst(At(0, 5, 30, 31, 39, 41)));
    }

    [Fact]
    public void Count_AlarmsThatCameAgain_AreOne_AndTheSuppressedAreNone()
    {
        var one = Occurrences.Make(1);
        var gone = one with { State = AlarmState.ReturnedUnacknowledged, IsActive = false, ClearedAt = one.RaisedAt.AddMinutes(1) };
        var again = one with { Activations = 2 };
        var kept = Occurrences.Make(2, rule: "stall") with { State = AlarmState.SuppressedByDesign };
        var result = Count([
            Occurrences.Event(one),
            Occurrences.Event(gone, AlarmEventKind.Cleared, 60, AlarmState.Unacknowledged),
            Occurrences.Event(again, AlarmEventKind.Raised, 120, AlarmState.ReturnedUnacknowledged),
            Occurrences.Event(kept, before: AlarmState.Normal),
            new AlarmEvent(Start, AlarmEventKind.Shelved, "stall", AlarmSubject.Saw("quay"), AlarmState.Normal, AlarmState.Shelved, null)]);

        Assert.Equal([(1L, 2), (2L, 0)], result.Alarms.Select(alarm => (alarm.Alarm.Number, alarm.Announced)));
        Assert.Equal(2, result.Alarms[0].Alarm.Activations);
        Assert.Equal(1, Assert.Single(result.Announced).Alarm.Number);
        Assert.Equal((2, one.RaisedAt), (result.WorstTenMinutes, result.WorstAt));
        Assert.Equal(2, result.Days);
    }

    [Fact]
    public void Count_AgainstJudgedAlarms_MatchesBySawAndCycleOrTime()
    {
        Alarm Judged(long number, double minutes, AlarmVerdict verdict, string saw = "north", string rule = "motor_load_high", string? cycle = null) =>
            Occurrences.Make(number, saw, rule) with { RaisedAt = Start.AddMinutes(minutes), Verdict = verdict, CycleId = cycle };
        var long1 = Occurrences.Make(1) with { CycleId = "c-1", ClearedAt = Start.AddMinutes(100) };
        Alarm[] stored =
        [
            Judged(11, 50, AlarmVerdict.Confirmed, rule: "stall", cycle: "c-1"),
            Judged(12, 11, AlarmVerdict.Rejected, rule: "stall"),
            Judged(13, 11.5, AlarmVerdict.Confirmed, rule: "stall"),
            Judged(14, 90, AlarmVerdict.Confirmed),
            Judged(15, 5, AlarmVerdict.Confirmed, saw: "quay"),
            Judged(16, 5, AlarmVerdict.Confirmed, saw: "elsewhere"),
            Judged(17, 5, AlarmVerdict.Confirmed, rule: "saw_silent"),
            Judged(18, 5, AlarmVerdict.None),
        ];

        var result = Count([Occurrences.Event(long1)], stored);

        Assert.Equal(
            [(15L, ""), (12L, "motor_load_high"), (13L, ""), (11L, "motor_load_high"), (14L, "motor_load_high")],
            result.Judged.Select(judged => (judged.Alarm.Number, string.Join(' ', judged.Rules))));
        Assert.Equal(2, result.JudgedElsewhere);
        Assert.Equal(AlarmVerdict.Confirmed, Assert.Single(result.Alarms).Verdict);
        Assert.Equal([15L, 13], result.Of(AlarmVerdict.Confirmed, raised: false).Select(judged => judged.Alarm.Number));
        Assert.Equal([12L], result.Of(AlarmVerdict.Rejected, raised: true).Select(judged => judged.Alarm.Number));
        Assert.Equal(["saw_silent"], result.NotTried.Select(rule => rule.Name));
    }

    [Fact]
    public void Count_Messages_ByContact_EvenWhereThereWereNone()
    {
        var result = Count([], notices:
        [
            new Notice(Start, NoticeKind.Raised, "shift lead", "mail", [1]),
            new Notice(Start, NoticeKind.Reminder, "shift lead", "mail", [1]),
            new Notice(Start, NoticeKind.Escalated, "head", "mail", [1]),
        ]);
        Assert.Equal([new ContactLoad("shift lead", 2, 1, 0), new ContactLoad("head", 1, 0, 1), new ContactLoad("nobody", 0, 0, 0)], result.Contacts);
    }

    private static BacktestResult Count(IReadOnlyList<AlarmEvent> events, IReadOnlyList<Alarm>? stored = null, IReadOnlyList<Notice>? notices = null)
    {
        var text = AlarmTemplate.Parse("x");
        var alarms = new AlarmOptions
        {
            Rules =
            [
                new AlarmRule { Name = "motor_load_high", Variable = AlarmVariables.Of(AlarmTopic.Signal, "motor_load"), Test = new AlarmTest { Comparison = AlarmComparison.Above, Limit = 4, ClearLimit = 4 }, Text = text },
                new AlarmRule { Name = "saw_silent", Variable = AlarmVariables.Of(AlarmTopic.Communication, "silence"), Test = new AlarmTest { Comparison = AlarmComparison.Above, Limit = 4, ClearLimit = 4 }, Text = text },
            ],
            Contacts = [.. new[] { "shift lead", "head", "nobody" }.Select(name => new Contact { Name = name, Channel = "mail" })],
        };
        var past = new WatchedPast
        {
            Changes = [],
            From = Start,
            To = Start.AddDays(2),
            Saws = ["north", "quay"],
            Topics = new HashSet<AlarmTopic> { AlarmTopic.Signal, AlarmTopic.Cycle },
            What = "a test",
        };
        return BacktestTally.Count("a.json", alarms, past, events, notices ?? [], stored ?? []);
    }
}
