using SawEdge.Core.Alarms;
using static SawEdge.Core.Tests.Alarms.MadeAlarms;

namespace SawEdge.Core.Tests.Alarms;

/// <summary>What people say to the board, and what it refuses.</summary>
public class AlarmBoardAnswerTests
{
    public static TheoryData<AlarmAnswer, string> Refused => new()
    {
        { About(AlarmAction.Acknowledge) with { Who = " " }, "An answer needs the name of the person who gives it." },
        { About(AlarmAction.Shelve, until: 60) with { Note = "" }, "Putting an alarm aside needs a reason." },
        { About(AlarmAction.TakeOutOfService) with { Note = " " }, "Putting an alarm aside needs a reason." },
        { About(AlarmAction.Comment) with { Note = "" }, "A comment needs words." },
        { About(AlarmAction.Shelve), "Shelving needs a time until when." },
        { About(AlarmAction.Shelve, until: 10), "The time on the shelf must end in the future." },
        { About(AlarmAction.Shelve, until: 10 + (7 * 86400) + 1), "The longest time on the shelf is 7 days; take the alarm out of service where it is to be longer." },
        { About(AlarmAction.Shelve, "nothing", until: 60), "There is no rule 'nothing'." },
        { About(AlarmAction.Shelve, about: new AlarmSubject(AlarmSubjectKind.Source, "plc-1"), until: 60), "Rule load does not hold for source plc-1." },
        { About(AlarmAction.Comment), "Rule load about saw-1 has no open alarm: name the number of the alarm that is meant." },
        { About(AlarmAction.Acknowledge), "Rule load about saw-1 is not open: there is nothing to acknowledge." },
        { AlarmAnswer.To(7, AlarmAction.Acknowledge, "Ada"), "There is no alarm 7: look at the list of alarms for its number." },
        { AlarmAnswer.To(-1, AlarmAction.Comment, "Ada", "why"), "There is no alarm -1: look at the list of alarms for its number." },
    };

    [Theory]
    [MemberData(nameof(Refused))]
    public void Take_WhatCannotBe_SaysWhyAndChangesNothing(AlarmAnswer answer, string why)
    {
        var board = new AlarmBoard([Rule()], Settings);

        Assert.Equal(why, board.Take(answer, At(10)));

        Assert.Empty(board.Drain());
        Assert.Empty(board.Open);
    }

    [Fact]
    public void Take_Acknowledge_SaysWhoAndWhen()
    {
        var board = Raised();

        Assert.Null(board.Take(AlarmAnswer.To(1, AlarmAction.Acknowledge, "Ada", "on my way"), At(10)));

        var happened = Assert.Single(board.Drain());
        Assert.Equal((AlarmEventKind.Acknowledged, "Ada", "on my way"), (happened.Kind, happened.Who, happened.Note));
        Assert.Equal(("Ada", At(10)), (happened.Alarm!.AcknowledgedBy, happened.Alarm.AcknowledgedAt));
        Assert.Equal("Alarm 1 (load, saw-1) is acknowledged already.", board.Take(AlarmAnswer.To(1, AlarmAction.Acknowledge, "Bob"), At(11)));
    }

    [Fact]
    public void Take_ResetBeforeAcknowledged_SaysAcknowledgeFirst()
    {
        var board = Raised(latch: true);
        Assert.Equal("Alarm 1 (load, saw-1) cannot be reset while its condition holds: put that right first.", board.Take(AlarmAnswer.To(1, AlarmAction.Reset, "Ada"), At(10)));
        board.Take(Goes(20));

        Assert.Equal("Alarm 1 (load, saw-1) is not acknowledged: acknowledge it first, then reset it.", board.Take(AlarmAnswer.To(1, AlarmAction.Reset, "Ada"), At(30)));
        Assert.Null(board.Take(AlarmAnswer.To(1, AlarmAction.Acknowledge, "Ada"), At(40)));
        Assert.Null(board.Take(AlarmAnswer.To(1, AlarmAction.Reset, "Ada"), At(50)));

        Assert.Empty(board.Open);
    }

    [Fact]
    public void Take_ShelveWhatIsQuiet_TheNextOccurrenceIsOnTheShelf()
    {
        var board = new AlarmBoard([Rule()], Settings);
        Assert.Null(board.Take(About(AlarmAction.Shelve, until: 3600), At(10)));
        var shelved = Assert.Single(board.Drain());
        Assert.Equal((AlarmState.Normal, AlarmState.Shelved, null, "because"), (shelved.Before, shelved.After, shelved.Alarm, shelved.Note));

        board.Take(Comes(100));
        Assert.Equal((AlarmState.Shelved, At(3600)), (board.Open[0].State, board.Open[0].ShelvedUntil));
        board.Advance(At(3600));

        Assert.Equal((AlarmState.Unacknowledged, null), (board.Open[0].State, board.Open[0].ShelvedUntil));
        Assert.Equal([AlarmEventKind.Raised, AlarmEventKind.Unshelved], board.Drain().Select(happened => happened.Kind));
    }

    [Fact]
    public void Take_ShelveLonger_LastsUntilThen()
    {
        var board = Raised();
        Assert.Null(board.Take(About(AlarmAction.Shelve, until: 600), At(10)));
        Assert.Equal("Alarm 1 (load, saw-1) is on the shelf until that time already.", board.Take(About(AlarmAction.Shelve, until: 600), At(11)));
        Assert.Null(board.Take(About(AlarmAction.Shelve, until: 900), At(12)));
        board.Drain();

        board.Advance(At(899));
        Assert.Empty(board.Drain());
        board.Advance(At(905));

        Assert.Equal(At(900), Assert.Single(board.Drain()).At);
    }

    [Fact]
    public void Take_ShelveByTheNumberOfAClosedOne_ShelvesWhatItWasAbout()
    {
        var board = Raised();
        board.Take(AlarmAnswer.To(1, AlarmAction.Acknowledge, "Ada"), At(10));
        board.Take(Goes(20));
        board.Drain();

        Assert.Null(board.Take(AlarmAnswer.To(1, AlarmAction.Shelve, "Ada", "being repaired", At(600)), At(30)));

        var shelved = Assert.Single(board.Drain());
        Assert.Equal((AlarmEventKind.Shelved, "load", Saw, null), (shelved.Kind, shelved.Rule, shelved.Subject, shelved.Alarm));
    }

    [Fact]
    public void Take_RemarksAboutAClosedOne_FindEachOther()
    {
        var board = Raised();
        board.Take(AlarmAnswer.To(1, AlarmAction.Acknowledge, "Ada"), At(10));
        board.Take(Goes(20));
        var stored = board.Drain()[^1].Alarm!;
        Assert.True(stored.IsClosed);
        var restarted = new AlarmBoard([Rule()], Settings);
        restarted.Restore(board.Save());
        Assert.Equal("There is no alarm 1: look at the list of alarms for its number.", restarted.Take(AlarmAnswer.To(1, AlarmAction.Confirm, "Ada"), At(30)));

        Assert.Null(restarted.Take(AlarmAnswer.To(1, AlarmAction.Confirm, "Ada"), At(30), stored));
        // The history may not have stored the verdict yet.
        Assert.Null(restarted.Take(AlarmAnswer.To(1, AlarmAction.Comment, "Ada", "a tooth was missing"), At(30), stored));
        Assert.Equal("Alarm 1 (load, saw-1) is confirmed already; a comment can say more.", restarted.Take(AlarmAnswer.To(1, AlarmAction.Confirm, "Ada"), At(31), stored));
        Assert.Equal("Alarm 1 (load, saw-1) is closed: nothing is left to acknowledge.", restarted.Take(AlarmAnswer.To(1, AlarmAction.Acknowledge, "Ada"), At(32), stored));
        Assert.Null(restarted.Take(AlarmAnswer.To(1, AlarmAction.Reject, "Bob", "it was the clamp"), At(33), stored));

        var events = restarted.Drain();
        Assert.Equal([(AlarmEventKind.Confirmed, AlarmVerdict.Confirmed), (AlarmEventKind.Commented, AlarmVerdict.Confirmed), (AlarmEventKind.Rejected, AlarmVerdict.Rejected)],
            events.Select(happened => (happened.Kind, happened.Alarm!.Verdict)));
        Assert.All(events, happened => Assert.Equal((AlarmState.Normal, AlarmState.Normal, At(20)), (happened.Before, happened.After, happened.Alarm!.ClearedAt!.Value)));
        Assert.Empty(restarted.Open);
    }

    [Fact]
    public void Take_ManyAtOneMoment_EachAMillisecondLater()
    {
        var board = Raised();
        for (var n = 0; n < 3; n++)
            Assert.Null(board.Take(AlarmAnswer.To(1, AlarmAction.Comment, "Ada", "look"), At(-5)));

        Assert.Equal([At(0.001), At(0.002), At(0.003)], board.Drain().Select(happened => happened.At));
    }

    private static AlarmBoard Raised(bool latch = false)
    {
        var board = new AlarmBoard([Rule(latch: latch)], Settings);
        board.Take(Comes(0));
        board.Drain();
        return board;
    }
}
