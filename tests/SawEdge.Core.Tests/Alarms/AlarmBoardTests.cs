using SawEdge.Core.Alarms;
using static SawEdge.Core.Tests.Alarms.MadeAlarms;

namespace SawEdge.Core.Tests.Alarms;

/// <summary>The board around the life of each alarm.</summary>
public class AlarmBoardTests
{
    [Fact]
    public void Take_Condition_RaisesWithNumberTextAndCaution()
    {
        var board = new AlarmBoard([Rule()], Settings);

        board.Take(Comes(0));

        var raised = Assert.Single(board.Drain());
        Assert.Equal((AlarmEventKind.Raised, AlarmState.Normal, AlarmState.Unacknowledged), (raised.Kind, raised.Before, raised.After));
        Assert.Equal((1, "saw-1: motor load 6 kW, limit 5 kW", "A dull blade.", "Stop the saw first.", "kW"),
            (raised.Alarm!.Number, raised.Alarm.Text, raised.Alarm.MayBe, raised.Alarm.Caution, raised.Alarm.Unit));
        Assert.Equal([raised.Alarm], board.Open);
    }

    [Fact]
    public void Take_SameChangeAgain_ChangesNothing()
    {
        var board = new AlarmBoard([Rule()], Settings);
        board.Take(Comes(0));
        board.Drain();

        board.Take(Comes(5));

        Assert.Empty(board.Drain());
        Assert.Equal(1, board.Open[0].Activations);
    }

    [Fact]
    public void Restore_OpenAlarm_GoesOn()
    {
        var first = new AlarmBoard([Rule()], Settings);
        first.Take(Comes(0, value: 0));
        var second = new AlarmBoard([Rule()], Settings);

        second.Restore(first.Save());

        Assert.Equal(first.Open, second.Open);
        second.Take(Comes(9));
        Assert.Empty(second.Drain());
        Assert.Null(second.Take(AlarmAnswer.To(1, AlarmAction.Acknowledge, "Ada"), At(10)));
        Assert.Equal(AlarmState.Acknowledged, second.Open[0].State);
    }

    [Fact]
    public void Take_FactsOfTheChange_FillTheText()
    {
        var board = new AlarmBoard([Rule() with { Text = AlarmTemplate.Parse("{saw} {rule} {severity} {subject} {blade} {value} {nothing}") }], Settings);

        board.Take(Comes(0) with { Value = double.NaN, MayBe = "A chip in the gullet.", Caution = "Lock out.", Cause = "chip", CycleId = "c-1", Facts = new Dictionary<string, AlarmFact> { ["blade"] = AlarmFact.Words("B7"), ["value"] = AlarmFact.Words("fault") } });

        var alarm = board.Open[0];
        Assert.Equal("saw-1 load medium saw-1 B7 fault not known", alarm.Text);
        Assert.Equal(("A chip in the gullet.", "Lock out.", "chip", "c-1"), (alarm.MayBe, alarm.Caution, alarm.Cause, alarm.CycleId));
    }

    [Fact]
    public void Take_ComesAgainUnacknowledged_IsTheSameOccurrence()
    {
        var board = new AlarmBoard([Rule()], Settings);
        board.Take(Comes(0));
        board.Take(Goes(100));
        Assert.Equal((AlarmState.ReturnedUnacknowledged, At(100)), (board.Open[0].State, board.Open[0].ClearedAt));

        board.Take(Comes(200, value: 9));

        var alarm = Assert.Single(board.Open);
        Assert.Equal((1, 2, 9, At(0), null, true), (alarm.Number, alarm.Activations, alarm.Value, alarm.RaisedAt, alarm.ClearedAt, alarm.IsActive));
    }

    [Fact]
    public void Advance_TheClockWasSetBackByAnHour_ChatteringEndsInItsTime()
    {
        var board = new AlarmBoard([Rule()], Settings);
        foreach (var second in new[] { 3600, 3630, 3660 })
        {
            board.Take(Comes(second));
            board.Take(Goes(second + 10));
        }

        board.Advance(At(0));
        board.Advance(At(599));
        Assert.True(board.Open[0].IsChattering);
        board.Advance(At(600));
        Assert.False(board.Open[0].IsChattering);
    }

    [Fact]
    public void Take_ThreeTimesInAMinute_IsHeldUntilItHasBeenQuiet()
    {
        var board = new AlarmBoard([Rule()], Settings);
        foreach (var second in new[] { 0, 30, 60 })
        {
            board.Take(Comes(second));
            board.Take(Goes(second + 10));
        }

        Assert.Equal(["raised", "cleared", "raised", "cleared", "raised", "chattering"], board.Drain().Select(happened => happened.Kind.ToName()));
        board.Take(Comes(300));
        board.Take(Goes(400));
        board.Advance(At(999));
        Assert.Equal((true, true, AlarmState.Unacknowledged), (board.Open[0].IsActive, board.Open[0].IsChattering, board.Open[0].State));
        Assert.Empty(board.Drain());

        board.Advance(At(5000));

        Assert.Equal([(AlarmEventKind.Settled, At(1000)), (AlarmEventKind.Cleared, At(1000.001))], board.Drain().Select(happened => (happened.Kind, happened.At)));
        Assert.Equal((false, AlarmState.ReturnedUnacknowledged, 4), (board.Open[0].IsChattering, board.Open[0].State, board.Open[0].Activations));
    }

    [Fact]
    public void Take_ThreeTimesInSixtyOneSeconds_IsNotHeld()
    {
        var board = new AlarmBoard([Rule()], Settings);
        foreach (var second in new[] { 0, 30, 61 })
        {
            board.Take(Comes(second));
            board.Take(Goes(second + 10));
        }

        Assert.DoesNotContain(AlarmEventKind.Chattering, board.Drain().Select(happened => happened.Kind));
    }

    [Fact]
    public void Take_SourceIsSilent_ItsSawsAreQuietAndOthersAreNot()
    {
        var plc = new AlarmSubject(AlarmSubjectKind.Source, "plc-1");
        var board = new AlarmBoard([Rule(), Rule("dead", silences: true, of: AlarmSubjectKind.Source), Rule("noise", of: AlarmSubjectKind.Source)], Settings);
        board.Take(Comes(0, about: AlarmSubject.Saw("saw-2")));
        board.Take(Comes(1, "dead", plc));
        board.Take(Comes(2));
        board.Take(Comes(3, about: AlarmSubject.Saw("saw-3")));
        board.Take(Comes(4, "noise", plc));
        Assert.Equal("BBHBB", string.Concat(board.Open.Select(alarm => alarm.State.ToLetter())));
        Assert.Equal("alarm 2 (dead, source plc-1) is its cause", board.Drain().Single(happened => happened.After == AlarmState.SuppressedByDesign).Note);

        board.Take(Goes(5, "dead", plc));

        Assert.Equal("BDBBB", string.Concat(board.Open.Select(alarm => alarm.State.ToLetter())));
        Assert.Equal([AlarmEventKind.Cleared, AlarmEventKind.Unsuppressed], board.Drain().Select(happened => happened.Kind));
    }

    [Fact]
    public void Take_CauseOutOfService_SilencesNobody()
    {
        var board = new AlarmBoard([Rule(), Rule("silent", silences: true)], Settings);
        board.Take(Comes(0, "silent"));
        board.Take(Comes(1));
        Assert.Equal("BH", string.Concat(board.Open.Select(alarm => alarm.State.ToLetter())));

        board.Take(About(AlarmAction.TakeOutOfService, "silent"), At(2));

        Assert.Equal("IB", string.Concat(board.Open.Select(alarm => alarm.State.ToLetter())));
    }

    [Fact]
    public void Take_CauseBehindACause_TheirOrderIsKept()
    {
        var plc = new AlarmSubject(AlarmSubjectKind.Source, "plc-1");
        var board = new AlarmBoard([Rule(), Rule("silent", silences: true), Rule("dead", silences: true, of: AlarmSubjectKind.Source)], Settings);
        board.Take(Comes(0, "dead", plc));
        board.Take(Comes(1));
        board.Take(Comes(2, "silent"));
        Assert.Equal("BHH", string.Concat(board.Open.Select(alarm => alarm.State.ToLetter())));

        // The saw is still silent: that is the one message then.
        board.Take(Goes(3, "dead", plc));

        Assert.Equal("DHB", string.Concat(board.Open.Select(alarm => alarm.State.ToLetter())));
    }

    [Fact]
    public void Advance_OutsideOfHours_SuppressedUntilTheyBegin()
    {
        // At work from nine to five; the start is at eight.
        var hours = new WorkingHours(TimeZoneInfo.Utc, [new WorkingSpan(new HashSet<DayOfWeek>(Enum.GetValues<DayOfWeek>()), new TimeOnly(9, 0), new TimeOnly(17, 0))]);
        var board = new AlarmBoard([Rule() with { Hours = hours }], Settings);
        board.Take(Comes(0));
        Assert.Equal(("outside of the rule's hours", AlarmState.SuppressedByDesign), (board.Drain()[0].Note, board.Open[0].State));

        board.Advance(At(3599));
        Assert.Empty(board.Drain());
        board.Advance(At(3600));

        Assert.Equal((AlarmEventKind.Unsuppressed, AlarmState.Unacknowledged), (board.Drain()[0].Kind, board.Open[0].State));
        board.Advance(At(10 * 3600));
        Assert.Equal(AlarmState.Unacknowledged, board.Open[0].State);
    }

    [Fact]
    public void Advance_NoShiftAtWork_SuppressedUntilOneIs_AndNotWithoutACalendar()
    {
        var board = new AlarmBoard([Rule() with { InShifts = true }, Rule("heat")], Settings with { IsAtWork = at => at >= At(3600) && at < At(7200) });
        board.Take(Comes(0));
        board.Take(Comes(0, "heat"));
        Assert.Equal("no shift is at work", board.Drain()[0].Note);
        Assert.Equal("HB", string.Concat(board.Open.Select(alarm => alarm.State.ToLetter())));
        board.Advance(At(3599));
        Assert.Empty(board.Drain());
        board.Advance(At(3600));
        Assert.Equal("BB", string.Concat(board.Open.Select(alarm => alarm.State.ToLetter())));

        // What was announced is not hidden again when the shift ends.
        board.Drain();
        board.Advance(At(8000));
        Assert.Empty(board.Drain());

        var without = new AlarmBoard([Rule() with { InShifts = true }], Settings);
        without.Take(Comes(0));
        Assert.Equal(AlarmState.Unacknowledged, without.Open[0].State);
    }

    [Fact]
    public void Restore_RuleIsGone_ClosedAndSaidSo()
    {
        var first = new AlarmBoard([Rule(latch: true), Rule("heat"), Rule("slip")], Settings);
        first.Take(Comes(0));
        first.Take(Goes(1));
        first.Take(Comes(2, "heat"));
        first.Take(About(AlarmAction.Shelve, "heat", until: 9000), At(3));
        first.Take(About(AlarmAction.TakeOutOfService, "slip"), At(4));
        var second = new AlarmBoard([Rule("other")], Settings);
        second.Restore(first.Save());
        Assert.Equal(2, second.Open.Count);

        second.Advance(At(100));

        var events = second.Drain();
        Assert.Equal(["heat cleared G G", "heat unshelved G A", "load cleared E A", "slip returned_to_service I A"],
            events.Select(happened => $"{happened.Rule} {happened.Kind.ToName()} {happened.Before.ToLetter()} {happened.After.ToLetter()}"));
        Assert.All(events, happened => Assert.Equal("its rule is no longer configured for it", happened.Note));
        Assert.Empty(second.Open);
        second.Advance(At(101));
        Assert.Empty(second.Drain());
        Assert.Equal("Rule load is no longer configured for saw-1.", second.Take(About(AlarmAction.Shelve, until: 9000), At(102)));
    }

    [Fact]
    public void Restore_SawIsGone_Closed()
    {
        var first = new AlarmBoard([Rule()], Settings);
        first.Take(Comes(0));
        var second = new AlarmBoard([Rule()], Settings with { Subjects = new HashSet<AlarmSubject> { AlarmSubject.Saw("saw-2") } });
        second.Restore(first.Save());

        second.Advance(At(1));

        Assert.True(Assert.Single(second.Drain()).Alarm!.IsClosed);
        Assert.Throws<ArgumentException>(() => second.Take(Comes(2)));
    }

    [Fact]
    public void Adopt_MemoryIsLost_GoesOnFromWhatIsOpen()
    {
        var first = new AlarmBoard([Rule(latch: true), Rule("heat"), Rule("slip")], Settings);
        first.Take(Comes(0));
        first.Take(Goes(1));
        first.Take(Comes(2, "heat"));
        first.Take(About(AlarmAction.Shelve, "heat", until: 600), At(3));
        var second = new AlarmBoard([Rule(latch: true), Rule("heat"), Rule("slip")], Settings);

        second.Adopt(first.Open, 41);

        Assert.Equal(first.Open, second.Open);
        second.Take(Comes(4, "slip"));
        Assert.Equal(42, second.Open[^1].Number);
        second.Advance(At(600));
        Assert.Equal("EBB", string.Concat(second.Open.Select(alarm => alarm.State.ToLetter())));
    }

    [Theory]
    [InlineData("")]
    [InlineData("[]")]
    [InlineData("{}")]
    [InlineData("{\"Version\":9,\"NextNumber\":1,\"Entries\":[]}")]
    [InlineData("{\"Version\":1,\"NextNumber\":1,\"Entries\":null}")]
    [InlineData("{\"Version\":1,\"NextNumber\":1,\"Entries\":[null]}")]
    [InlineData("{\"Version\":1,\"NextNumber\":1,\"Entries\":[{\"Rule\":\"load\",\"Subject\":{\"Kind\":0,\"Name\":\"saw-1\"},\"Life\":{\"Exists\":true}}]}")]
    public void Restore_Nonsense_IsRefused(string saved) => Assert.Throws<FormatException>(() => new AlarmBoard([Rule()], Settings).Restore(saved));
}
