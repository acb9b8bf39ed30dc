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
}
