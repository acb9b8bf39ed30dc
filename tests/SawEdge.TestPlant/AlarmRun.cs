using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.TestPlant;

/// <summary>The life of the alarms of a past, step by step, with people who answer most of them.</summary>
internal sealed class AlarmRun
{
    private static readonly TimeSpan Soon = TimeSpan.FromMinutes(6);

    // Live operation looks each second; the difference is not to be seen.
    private static readonly TimeSpan Look = TimeSpan.FromSeconds(10);

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

    /// <summary>Lets a stretch of time pass.</summary>
    /// <param name="from">Its begin.</param>
    /// <param name="to">Its end.</param>
    /// <param name="changes">What came or went in it, in the order of time.</param>
    public void Pass(DateTimeOffset from, DateTimeOffset to, IReadOnlyList<ConditionChange> changes)
    {
        var next = 0;
        for (var now = from + Look; now <= to; now += Look)
        {
            for (; next < changes.Count && changes[next].At <= now; next++)
                Step(changes[next].At, changes[next]);
            Step(now, null);
        }

        for (; next < changes.Count; next++)
            Step(changes[next].At, changes[next]);
    }

    /// <summary>Stores what has come together.</summary>
    public async Task StoreAsync(HistoryWriter writer)
    {
        await writer.AppendAlarmsAsync(new AlarmBatch { Events = [.. _events], Notices = [.. _notices], Memory = new AlarmMemory(_board.Save(), _plan.Save()) }, CancellationToken.None);
        _events.Clear();
        _notices.Clear();
    }

    private void Step(DateTimeOffset now, ConditionChange? change)
    {
        while (_answers.TryPeek(out var answer, out var due) && due <= now)
        {
            _answers.Dequeue();

            // What is closed by then needs no answer, and is refused.
            _board.Take(answer, due);
        }

        _board.Advance(now);
        if (change is not null)
            _board.Take(change);
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
