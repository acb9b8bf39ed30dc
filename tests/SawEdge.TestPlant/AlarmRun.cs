using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.TestPlant;

/// <summary>The life of the alarms of a past, step by step, with people who answer most of them.</summary>
internal sealed class AlarmRun
{
    private static readonly TimeSpan Soon = TimeSpan.FromMinutes(6);

    private readonly AlarmBoard _board;
    private readonly NoticePlan _plan;
    private readonly DateTimeOffset _answersUntil;
    private readonly PriorityQueue<AlarmAnswer, DateTimeOffset> _answers = new();
    private readonly List<AlarmEvent> _events = [];
    private readonly List<Notice> _notices = [];

    public AlarmRun(GatewayOptions options, DateTimeOffset answersUntil)
    {
        _answersUntil = answersUntil;
        _board = new AlarmBoard(options.Alarms.Rules, new AlarmBoardSettings
        {
            SourceOfSaw = options.Saws.ToDictionary(saw => saw.Name, _ => "hall", StringComparer.Ordinal),
            Quantity = (value, unit) => DisplayText.Text(options.Units, value, unit),
        });
        _plan = new NoticePlan(options.Alarms.Contacts);
    }

    /// <summary>Lets time pass, and takes what came or went at its end.</summary>
    public void Step(DateTimeOffset now, List<ConditionChange> changes)
    {
        while (_answers.TryPeek(out var answer, out var due) && due <= now)
        {
            _answers.Dequeue();

            // What is closed by then needs no answer, and is refused.
            _board.Take(answer, due);
        }

        _board.Advance(now);
        foreach (var change in changes)
            _board.Take(change);
        changes.Clear();
        while (_board.TryTake(out var happened))
        {
            _events.Add(happened);
            _plan.Take(happened, now);
            PlanAnswer(happened);
        }

        _plan.Advance(now);
        while (_plan.TryTake(out var notice))
            _notices.Add(notice);
    }

    /// <summary>Stores what has come together.</summary>
    public async Task StoreAsync(HistoryWriter writer)
    {
        await writer.AppendAlarmsAsync(new AlarmBatch { Events = [.. _events], Notices = [.. _notices], Memory = new AlarmMemory(_board.Save(), _plan.Save()) }, CancellationToken.None);
        _events.Clear();
        _notices.Clear();
    }

    private void PlanAnswer(AlarmEvent happened)
    {
        if (happened.Alarm is not { } alarm || happened.At > _answersUntil)
            return;
        if (happened.Kind == AlarmEventKind.Raised && happened.After == AlarmState.Unacknowledged)
        {
            _answers.Enqueue(AlarmAnswer.To(alarm.Number, AlarmAction.Acknowledge, "M. Ortega", "looked at the saw"), happened.At + Soon);
            if (alarm.Number % 3 == 0)
                _answers.Enqueue(AlarmAnswer.To(alarm.Number, AlarmAction.Comment, "J. \"Jo\" <b>Lind</b>", "<img src=x onerror=alert(4)> guides cleaned & blade checked"), happened.At + (2 * Soon));
            if (alarm.Number % 4 == 0)
                _answers.Enqueue(AlarmAnswer.To(alarm.Number, AlarmAction.Confirm, "M. Ortega", "found as told"), happened.At + (3 * Soon));
            else if (alarm.Number % 4 == 1)
                _answers.Enqueue(AlarmAnswer.To(alarm.Number, AlarmAction.Reject, "M. Ortega", "nothing found"), happened.At + (3 * Soon));
        }
        else if (happened.After == AlarmState.LatchedAcknowledged)
        {
            _answers.Enqueue(AlarmAnswer.To(alarm.Number, AlarmAction.Reset, "M. Ortega"), happened.At + Soon);
        }
    }
}
