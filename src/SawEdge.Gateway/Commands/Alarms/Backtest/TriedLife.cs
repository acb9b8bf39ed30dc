using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.Commands.Alarms.Backtest;

/// <summary>
/// What came and went, through the life of the alarms and the plan of the messages as they are in live operation; nothing is sent or
/// stored. People are taken to acknowledge each alarm some time after it came and to reset one that is latched, for one that
/// nobody ever answers would not come a second time.
/// </summary>
/// <param name="rules">The rules.</param>
/// <param name="contacts">Who would be told.</param>
/// <param name="settings">What the board must know.</param>
/// <param name="answerAfter">How soon people answer; null: never.</param>
internal sealed class TriedLife(IReadOnlyList<AlarmRule> rules, IReadOnlyList<Contact> contacts, AlarmBoardSettings settings, TimeSpan? answerAfter)
{
    /// <summary>Who answers.</summary>
    private const string Somebody = "backtest";

    // The gateway looks each second. A minute shows the same alarms; messages may be planned up to a minute later.
    private static readonly TimeSpan Step = TimeSpan.FromMinutes(1);

    private readonly AlarmBoard _board = new(rules, settings);
    private readonly NoticePlan _plan = new(contacts);
    private readonly PriorityQueue<(long Number, AlarmAction Action), DateTimeOffset> _answers = new();
    private readonly List<AlarmEvent> _events = [];
    private readonly List<Notice> _notices = [];

    /// <summary>What happened to the alarms, in order.</summary>
    public IReadOnlyList<AlarmEvent> Events => _events;

    /// <summary>The messages that would have gone out, in order.</summary>
    public IReadOnlyList<Notice> Notices => _notices;

    /// <summary>Lets it happen.</summary>
    /// <param name="past">What came and went.</param>
    /// <param name="cancellation">Breaks off.</param>
    public void Run(WatchedPast past, CancellationToken cancellation)
    {
        if (past.From > past.To)
            return;
        var now = past.From;
        foreach (var change in past.Changes)
        {
            cancellation.ThrowIfCancellationRequested();
            Pass(ref now, change.At);
            _board.Take(change);
            Collect();
        }

        Pass(ref now, past.To);
    }

    private void Pass(ref DateTimeOffset now, DateTimeOffset until)
    {
        while (now < until)
        {
            now = until - now > Step ? now + Step : until;
            while (_answers.TryPeek(out var due, out var at) && at <= now)
            {
                _answers.Dequeue();

                // What is closed by then needs no answer, and is refused.
                _board.Take(AlarmAnswer.To(due.Number, due.Action, Somebody), at);
                Collect();
            }

            _board.Advance(now);
            Collect();
            _plan.Advance(now);
            Collect();
        }
    }

    private void Collect()
    {
        while (_board.TryTake(out var happened))
        {
            _events.Add(happened);
            _plan.Take(happened);
            if (answerAfter is not { } after || happened.Alarm is not { } alarm)
                continue;
            if (happened.After == AlarmState.Unacknowledged && happened.Before != AlarmState.Unacknowledged)
                _answers.Enqueue((alarm.Number, AlarmAction.Acknowledge), happened.At + after);
            else if (happened.After == AlarmState.LatchedAcknowledged)
                _answers.Enqueue((alarm.Number, AlarmAction.Reset), happened.At + after);
        }

        while (_plan.TryTake(out var notice))
            _notices.Add(notice);
    }
}
