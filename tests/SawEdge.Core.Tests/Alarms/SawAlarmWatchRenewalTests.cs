using SawEdge.Core.Alarms;
using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;
using SawEdge.Core.Tests.Cycles;

namespace SawEdge.Core.Tests.Alarms;

/// <summary>Rules that are exchanged while a saw goes on.</summary>
public sealed class SawAlarmWatchRenewalTests
{
    private static readonly AlarmRule High = MadeRules.Load(AlarmComparison.Above, 10, 8, on: 30, off: 30) with { Name = "high", Subjects = new HashSet<string> { "Saw 1", "Saw 2" } };
    private static readonly AlarmRule Slow = MadeRules.Rule(AlarmTopic.Cycle, "cut_time_ratio", MadeRules.Number(AlarmComparison.Above, 1.5, 1.2), "slow") with { Cuts = new CutCount(3, 5, 2) };

    public static TheoryData<string> Others => [.. Different.Keys];

    private static Dictionary<string, AlarmRule> Different => new()
    {
        ["limit"] = High with { Test = High.Test with { Limit = 11 } },
        ["delay"] = High with { OnDelay = TimeSpan.FromSeconds(29) },
        ["text"] = High with { Text = AlarmTemplate.Parse("{saw}") },
        ["saws"] = High with { Subjects = new HashSet<string> { "Saw 1" } },
        ["all saws"] = High with { Subjects = null },
        ["hours"] = High with { Hours = Hours(6) },
        ["words"] = High with { Test = High.Test with { Words = ["a"] } },
        ["latch"] = High with { Latch = true },
    };

    [Theory]
    [MemberData(nameof(Others))]
    public void SaysTheSameAs_AnotherInOneMember_DoesNot(string what) => Assert.False(Different[what].SaysTheSameAs(High));

    [Fact]
    public void SaysTheSameAs_MadeAnewOfTheSameText_Does()
    {
        var again = MadeRules.Load(AlarmComparison.Above, 10, 8, on: 30, off: 30) with { Name = "high", Subjects = new HashSet<string> { "Saw 2", "Saw 1" } };
        Assert.True(High.SaysTheSameAs(again));
        Assert.True((High with { Hours = Hours(6) }).SaysTheSameAs(again with { Hours = Hours(6) }));
        Assert.False((High with { Hours = Hours(6) }).SaysTheSameAs(again with { Hours = Hours(7) }));
    }

    // 20 s of the 30 s have passed when the rules are exchanged.
    [Theory]
    [InlineData(10, "+high")]
    [InlineData(9, "")]
    public void GoOnFrom_ARuleThatSaysTheSame_KeepsItsDelay_AnotherBeginsAnew(double limit, string told)
    {
        var before = new SawAlarmWatch("Saw 1", [High]);
        for (var i = 0; i <= 200; i++)
            before.Push(Frame(i * 0.1), CyclePhase.Cycle, 2);
        Assert.Empty(before.Drain());
        var watch = new SawAlarmWatch("Saw 1", [Slow, High with { Test = High.Test with { Limit = limit }, Subjects = new HashSet<string> { "Saw 1", "Saw 2" } }]);
        watch.GoOnFrom(before);
        for (var i = 201; i <= 310; i++)
            watch.Push(Frame(i * 0.1), CyclePhase.Cycle, 2);
        Assert.Equal(told, watch.Drain().Words());
        for (var i = 311; i <= 510; i++)
            watch.Push(Frame(i * 0.1), CyclePhase.Cycle, 2);
        Assert.Equal(told.Length > 0 ? "" : "+high", watch.Drain().Words());
    }

    // Three of five, of which two came before.
    [Theory]
    [InlineData(3, "+slow")]
    [InlineData(4, "")]
    public void GoOnFrom_ARuleOnSeveralCuts_GoesOnCounting(int least, string told)
    {
        var before = new SawAlarmWatch("Saw 1", [Slow]);
        before.Take(MadeRules.Cut(1) with { CutTimeRatio = 1.7 }, null);
        before.Take(MadeRules.Cut(2) with { CutTimeRatio = 1.7 }, null);
        before.Drain();
        var watch = new SawAlarmWatch("Saw 1", [High, Slow with { Cuts = new CutCount(least, 5, 2) }]);
        watch.GoOnFrom(before);

        // What came before comes no second time.
        watch.Take(MadeRules.Cut(2) with { CutTimeRatio = 1.7 }, null);
        watch.Take(MadeRules.Cut(3) with { CutTimeRatio = 1.7 }, null);
        Assert.Equal(told, watch.Drain().Words());
    }

    [Fact]
    public void Board_ARuleThatIsGone_IsNotKnown_AndOneOfAnotherSawIsNot()
    {
        var board = new AlarmBoard([High], new AlarmBoardSettings { Quantity = (value, unit) => $"{value} {unit}" });
        ConditionChange Of(string rule, string saw) => new() { Rule = rule, Subject = AlarmSubject.Saw(saw), At = SawScript.At(0), Holds = true };
        Assert.True(board.Knows(Of("high", "Saw 2")));
        Assert.False(board.Knows(Of("high", "Saw 3")));
        Assert.False(board.Knows(Of("slow", "Saw 1")));
    }

    private static WorkingHours Hours(int from) => new(TimeZoneInfo.Utc, [new WorkingSpan(new HashSet<DayOfWeek> { DayOfWeek.Monday }, new TimeOnly(from, 0), new TimeOnly(14, 0))]);

    private static SignalFrame Frame(double seconds)
    {
        var frame = new SignalFrame(SawScript.At(seconds));
        frame.Set(Signal.MotorLoad, 12);
        return frame;
    }
}
