using SawEdge.Core.Alarms;
using static SawEdge.Core.Tests.Alarms.MadeAlarms;

namespace SawEdge.Core.Tests.Alarms;

/// <summary>Who is told what and when.</summary>
public class NoticePlanTests
{
    private static readonly Contact Ada = new() { Name = "ada", Channel = "mail" };

    private static readonly Contact Boss = new() { Name = "boss", Channel = "text", OnlyEscalated = true };

    [Fact]
    public void Take_Raised_TellsEachThatWantsIt()
    {
        var floor = new Floor([Ada, Ada with { Name = "only high", Least = AlarmSeverity.High }, Ada with { Name = "other saw", Subjects = new HashSet<string> { "saw-2" } },
            Ada with { Name = "other rule", Rules = new HashSet<string> { "heat" } }, Ada with { Name = "this one", Rules = new HashSet<string> { "load" }, Subjects = new HashSet<string> { "saw-1" } }, Boss]);

        floor.Board.Take(Comes(0));

        Assert.Equal(["0 ada raised 1", "0 this one raised 1"], floor.Told());
    }

    [Fact]
    public void Advance_NobodyAcknowledges_RemindsUntilSomebodyDoes()
    {
        var floor = new Floor([Ada with { RemindEvery = TimeSpan.FromMinutes(10) }]);
        floor.Board.Take(Comes(0));

        floor.Until(1500);
        floor.Answer(AlarmAction.Acknowledge, 1501);
        floor.Until(9000);

        Assert.Equal(["0 ada raised 1", "600 ada reminder 1", "1200 ada reminder 1"], floor.Told());
    }

    [Fact]
    public void Advance_TheClockWasSetBackByAnHour_TheReminderComesInItsTime()
    {
        var floor = new Floor([Ada with { RemindEvery = TimeSpan.FromMinutes(10) }]);
        floor.Board.Take(Comes(3600));

        // Its time begins at 0.
        floor.Until(700);

        Assert.Equal(["3600 ada raised 1", "600 ada reminder 1"], floor.Told());
    }

    [Theory]
    [InlineData(AlarmAction.Shelve)]
    [InlineData(AlarmAction.TakeOutOfService)]
    public void Advance_PutAside_NobodyIsRemindedNorIsItPassedOn(AlarmAction aside)
    {
        var floor = new Floor([Ada with { RemindEvery = TimeSpan.FromMinutes(10), EscalateAfter = TimeSpan.FromMinutes(15), EscalateTo = "boss", TellCleared = true }, Boss]);
        floor.Board.Take(Comes(0));

        floor.Answer(aside, 60);
        floor.Until(7000);
        floor.Board.Take(Goes(7001));

        Assert.Equal(["0 ada raised 1"], floor.Told());
    }

    [Fact]
    public void Take_ShelfEndsAndStillActive_TellsAgain()
    {
        var floor = new Floor([Ada]);
        floor.Board.Take(Comes(0));

        floor.Answer(AlarmAction.Shelve, 60);
        floor.Until(8000);

        Assert.Equal(["0 ada raised 1", "7260 ada raised 1"], floor.Told());
    }

    [Fact]
    public void Take_RaisedBehindItsCause_TellsOnlyOfTheCause()
    {
        var floor = new Floor([Ada], Rule(), Rule("silent", silences: true));
        floor.Board.Take(Comes(0, "silent"));
        floor.Board.Take(Comes(5));
        floor.Board.Take(Goes(9));
        floor.Board.Take(Comes(20));
        Assert.Equal(["0 ada raised 1"], floor.Told());

        floor.Board.Take(Goes(30, "silent"));

        Assert.Equal(["30 ada raised 3"], floor.Told());
    }

    [Fact]
    public void Take_Cleared_TellsOnlyThoseWhoWereTold()
    {
        var floor = new Floor([Ada with { TellCleared = true }, Boss with { TellCleared = true }]);
        floor.Board.Take(Comes(0));
        floor.Board.Take(Goes(100));

        Assert.Equal(["0 ada raised 1", "100 ada cleared 1"], floor.Told());
    }

    [Fact]
    public void Take_ComesAgainUnacknowledged_IsNoNewsUnlessItWasToldToBeGone()
    {
        var floor = new Floor([Ada, Ada with { Name = "bob", TellCleared = true }]);
        floor.Board.Take(Comes(0));
        floor.Board.Take(Goes(100));
        floor.Board.Take(Comes(200));

        Assert.Equal(["0 ada raised 1", "0 bob raised 1", "100 bob cleared 1", "200 bob raised 1"], floor.Told());
    }

    [Fact]
    public void Take_LatchedAcknowledgedComesAgain_TellsAgain()
    {
        var floor = new Floor([Ada], Rule(latch: true));
        floor.Board.Take(Comes(0));
        floor.Board.Take(Goes(100));
        floor.Answer(AlarmAction.Acknowledge, 150);
        floor.Board.Take(Comes(200));

        Assert.Equal(["0 ada raised 1", "200 ada raised 1"], floor.Told());
    }

    [Fact]
    public void Advance_Chain_PassesOnStepByStepAndEachOnce()
    {
        var floor = new Floor(
        [
            Ada with { EscalateAfter = TimeSpan.FromMinutes(15), EscalateTo = "boss" },
            Boss with { EscalateAfter = TimeSpan.FromMinutes(30), EscalateTo = "owner" },
            Boss with { Name = "owner", EscalateAfter = TimeSpan.FromMinutes(5), EscalateTo = "ada" },
        ]);
        floor.Board.Take(Comes(0));

        floor.Until(20000);

        Assert.Equal(["0 ada raised 1", "900 boss escalated 1", "2700 owner escalated 1", "3000 ada escalated 1"], floor.Told());
    }

    [Fact]
    public void Advance_TwoPassOnToTheSame_ToldOnce()
    {
        var floor = new Floor([Ada with { EscalateAfter = TimeSpan.FromMinutes(15), EscalateTo = "boss" }, Ada with { Name = "bob", EscalateAfter = TimeSpan.FromMinutes(20), EscalateTo = "boss" }, Boss]);
        floor.Board.Take(Comes(0));

        floor.Until(20000);

        Assert.Equal(["0 ada raised 1", "0 bob raised 1", "900 boss escalated 1"], floor.Told());
    }

    [Fact]
    public void Advance_EscalatedAndReminderAtOnce_OneMessage()
    {
        var floor = new Floor([Ada with { EscalateAfter = TimeSpan.FromMinutes(10), EscalateTo = "bob" }, Ada with { Name = "bob", RemindEvery = TimeSpan.FromMinutes(10) }]);
        floor.Board.Take(Comes(0));

        floor.Until(700);

        Assert.Equal(["0 ada raised 1", "0 bob raised 1", "600 bob escalated 1"], floor.Told());
    }

    [Fact]
    public void Advance_EscalationBelowTheContactsLeast_IsNotTold()
    {
        var floor = new Floor([Ada with { EscalateAfter = TimeSpan.FromMinutes(15), EscalateTo = "boss" }, Boss with { Least = AlarmSeverity.High }]);
        floor.Board.Take(Comes(0));

        floor.Until(2000);

        Assert.Equal(["0 ada raised 1"], floor.Told());
    }

    [Fact]
    public void Advance_Digest_GathersAndLeavesOutWhatIsDone()
    {
        var floor = new Floor([Ada with { Digest = TimeSpan.FromHours(1) }], Rule(), Rule("heat"), Rule("slip"));
        floor.Board.Take(Comes(0));
        floor.Board.Take(Comes(100, "heat"));
        floor.Board.Take(Comes(200, "slip"));
        floor.Board.Take(Goes(300, "heat"));
        floor.Answer(AlarmAction.Acknowledge, 400, "heat");

        floor.Until(3599);
        Assert.Empty(floor.Told());
        floor.Until(8000);

        Assert.Equal(["3600 ada digest 1,3"], floor.Told());
    }

    [Fact]
    public void Advance_DigestOfOne_IsThatOne()
    {
        var floor = new Floor([Ada with { Digest = TimeSpan.FromMinutes(5), TellCleared = true }]);
        floor.Board.Take(Comes(0));
        floor.Until(400);
        floor.Until(409);
        floor.Board.Take(Goes(410));
        floor.Until(800);

        Assert.Equal(["300 ada raised 1", "710 ada cleared 1"], floor.Told());
    }

    [Fact]
    public void Take_FiveHundredAlarms_FewMessagesAndAllTold()
    {
        var saws = Enumerable.Range(0, 500).Select(n => AlarmSubject.Saw($"saw-{n}")).ToList();
        var floor = new Floor([Ada with { TellCleared = true, RemindEvery = TimeSpan.FromHours(1) }]);
        for (var n = 0; n < saws.Count; n++)
        {
            floor.Board.Take(Comes(n, about: saws[n]));
            floor.Until(n);
        }

        floor.Until(1800);
        var notices = floor.Notices();

        // Ten one by one, the rest every five minutes: of 490 s that makes two messages.
        Assert.Equal(12, notices.Count);
        Assert.Equal(Enumerable.Range(1, 500).Select(number => (long)number), notices.SelectMany(notice => notice.Alarms));
        Assert.All(notices.Skip(10), notice => Assert.Equal(NoticeKind.Digest, notice.Kind));

        for (var n = 0; n < saws.Count; n++)
            floor.Board.Take(Goes(1801, about: saws[n]));
        floor.Until(3000);
        Assert.Equal(11, floor.Notices().Count);
    }

    [Fact]
    public void Take_FloodIsOver_OneByOneAgain()
    {
        var floor = new Floor([Ada]);
        for (var n = 0; n < 11; n++)
        {
            floor.Until(n - 1);
            floor.Board.Take(Comes(n, about: AlarmSubject.Saw($"saw-{n}")));
        }

        floor.Until(605);
        Assert.Equal([.. Enumerable.Range(0, 10).Select(n => $"{n} ada raised {n + 1}"), "310 ada raised 11"], floor.Told());

        // Of eleven in 0..10 s more than four lie within the last ten minutes until 606 s.
        floor.Board.Take(Comes(605.5, about: AlarmSubject.Saw("late")));
        Assert.Empty(floor.Told());
        floor.Until(1300);
        Assert.Equal(["906 ada raised 12"], floor.Told());
        floor.Board.Take(Comes(1301, about: AlarmSubject.Saw("later")));
        Assert.Equal(["1301 ada raised 13"], floor.Told());
    }

    [Fact]
    public void Take_HighInAFlood_ToldAtOnce_UnlessTheFloodIsOfSuch()
    {
        var floor = new Floor([Ada], Rule(), Rule("high") with { Severity = AlarmSeverity.High });
        for (var n = 0; n < 12; n++)
            floor.Board.Take(Comes(n, about: AlarmSubject.Saw($"saw-{n}")));
        floor.Until(12);
        Assert.Equal(10, floor.Notices().Count);

        // What waits goes on waiting; ten that are urgent are told one by one, the eleventh with the rest.
        for (var n = 20; n < 31; n++)
        {
            floor.Until(n - 1);
            floor.Board.Take(Comes(n, "high", AlarmSubject.Saw($"saw-{n}")));
        }

        floor.Until(31);
        Assert.Equal([.. Enumerable.Range(0, 10).Select(n => $"{n + 20} ada raised {n + 13}")], floor.Told());
        floor.Until(400);
        Assert.Equal(["310 ada digest 11,12,23"], floor.Told());
    }

    [Fact]
    public void Advance_HoursBegin_WhatIsStillOpenInOneMessage()
    {
        // The start is at eight.
        var hours = new WorkingHours(TimeZoneInfo.Utc, [new WorkingSpan(new HashSet<DayOfWeek> { DayOfWeek.Monday }, new TimeOnly(9, 0), new TimeOnly(17, 0))]);
        var floor = new Floor([Ada with { Hours = hours, RemindEvery = TimeSpan.FromMinutes(10), TellCleared = true }, Ada with { Name = "bob" }], Rule(), Rule("heat"), Rule("slip"));
        floor.Board.Take(Comes(0));
        floor.Board.Take(Comes(60, "heat"));
        floor.Board.Take(Comes(120, "slip"));
        floor.Board.Take(Goes(130, "slip"));
        floor.Answer(AlarmAction.Acknowledge, 200, "slip");

        floor.Until(3650);
        floor.Board.Take(Goes(3660));
        floor.Board.Take(Goes(3661, "heat"));

        Assert.Equal(["0 bob raised 1", "60 bob raised 2", "120 bob raised 3", "3600 ada digest 1,2", "3660 ada cleared 1", "3661 ada cleared 2"], floor.Told());
    }

    [Fact]
    public void Take_GoneOutsideOfHours_ToldWhenTheyBegin()
    {
        var hours = new WorkingHours(TimeZoneInfo.Utc, [new WorkingSpan(new HashSet<DayOfWeek>(Enum.GetValues<DayOfWeek>()), new TimeOnly(7, 0), new TimeOnly(9, 0))]);
        var floor = new Floor([Ada with { Hours = hours, TellCleared = true }]);
        floor.Board.Take(Comes(0));
        floor.Until(3999);
        floor.Board.Take(Goes(4000));
        floor.Answer(AlarmAction.Acknowledge, 4100);

        floor.Until(23 * 3600);

        Assert.Equal(["0 ada raised 1", "82800 ada cleared 1"], floor.Told());
    }

    [Fact]
    public void Advance_RemindersAtOnce_OneMessage()
    {
        var floor = new Floor([Ada with { RemindEvery = TimeSpan.FromMinutes(10) }], Rule(), Rule("heat"));
        floor.Board.Take(Comes(0));
        floor.Board.Take(Comes(0, "heat"));

        floor.Until(700);

        Assert.Equal(["0 ada raised 1", "0 ada raised 2", "600 ada reminder 1,2"], floor.Told());
    }

    [Fact]
    public void Take_SawWithAWrongClock_GoesByTheGateways()
    {
        var board = new AlarmBoard([Rule()], Settings);
        var plan = new NoticePlan([Ada with { Digest = TimeSpan.FromMinutes(10) }]);
        board.Take(Comes(86400));
        foreach (var happened in board.Drain())
            plan.Take(happened, At(0));

        plan.Advance(At(600));

        Assert.True(plan.TryTake(out var notice));
        Assert.Equal(At(600), notice.At);
    }

    [Fact]
    public void Restore_ContactIsGone_DropsWhatWasPlannedForIt()
    {
        var floor = new Floor([Ada with { RemindEvery = TimeSpan.FromMinutes(10), Digest = TimeSpan.FromMinutes(1) }, Boss]);
        floor.Board.Take(Comes(0));
        floor.Told();
        var plan = new NoticePlan([Boss]);

        plan.Restore(floor.Plan.Save());
        plan.Advance(At(90000));

        Assert.False(plan.TryTake(out _));
    }

    [Theory]
    [InlineData("")]
    [InlineData("null")]
    [InlineData("{}")]
    [InlineData("{\"Version\":2,\"Alarms\":[],\"Boxes\":[]}")]
    [InlineData("{\"Version\":1,\"Alarms\":[null],\"Boxes\":[]}")]
    [InlineData("{\"Version\":1,\"Alarms\":[],\"Boxes\":[{\"Contact\":\"ada\",\"Due\":\"2026-03-02T08:00:00Z\",\"IsFlooded\":false,\"Recent\":[],\"Waiting\":[{\"Number\":7,\"Kind\":0}]}]}")]
    public void Restore_Nonsense_IsRefused(string saved) => Assert.Throws<FormatException>(() => new NoticePlan([Ada]).Restore(saved));

    /// <summary>A board and a plan that go together.</summary>
    private sealed class Floor(IReadOnlyList<Contact> contacts, params AlarmRule[] rules)
    {
        private double _now;

        public AlarmBoard Board { get; } = new(rules.Length > 0 ? rules : [Rule()], Settings);

        public NoticePlan Plan { get; } = new(contacts);

        public void Until(double seconds)
        {
            Pass();
            for (_now = Math.Ceiling(_now); _now <= seconds; _now++)
            {
                Board.Advance(At(_now));
                Pass();
                Plan.Advance(At(_now));
            }
        }

        public void Answer(AlarmAction action, double seconds, string rule = "load")
        {
            Until(seconds - 1);
            Assert.Null(Board.Take(About(action, rule, until: seconds + 7200), At(seconds)));
            Pass();
        }

        public List<Notice> Notices()
        {
            Pass();
            var notices = new List<Notice>();
            while (Plan.TryTake(out var notice))
                notices.Add(notice);
            return notices;
        }

        public List<string> Told() => [.. Notices().Select(n => $"{(n.At - Start).TotalSeconds:0} {n.Contact} {n.Kind.ToString().ToLowerInvariant()} {string.Join(',', n.Alarms)}")];

        private void Pass()
        {
            foreach (var happened in Board.Drain())
                Plan.Take(happened);
        }
    }
}
