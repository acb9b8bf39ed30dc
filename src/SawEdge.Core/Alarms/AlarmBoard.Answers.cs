using System.Globalization;

namespace SawEdge.Core.Alarms;

/// <content>What people say.</content>
public sealed partial class AlarmBoard
{
    /// <summary>Closed occurrences that are remembered, so that several remarks about one find each other before they are stored.</summary>
    private const int MostClosed = 256;

    private readonly Dictionary<long, Alarm> _closed = [];
    private readonly Queue<long> _closedOrder = new();

    /// <summary>Takes what a person said.</summary>
    /// <param name="answer">What was said.</param>
    /// <param name="at">When.</param>
    /// <param name="stored">The occurrence as the history has it; needed where the answer is about one that is closed, which the board forgets after a while.</param>
    /// <returns>Null where it was done; otherwise why not and what would be right, a sentence.</returns>
    public string? Take(AlarmAnswer answer, DateTimeOffset at, Alarm? stored = null)
    {
        if (string.IsNullOrWhiteSpace(answer.Who))
            return "An answer needs the name of the person who gives it.";
        if (answer.Action is AlarmAction.Shelve or AlarmAction.TakeOutOfService && string.IsNullOrWhiteSpace(answer.Note))
            return "Putting an alarm aside needs a reason.";
        if (answer.Action is AlarmAction.Comment && string.IsNullOrWhiteSpace(answer.Note))
            return "A comment needs words.";
        if (Find(answer, stored, out var entry, out var closed) is { } unknown)
            return unknown;

        EndShelf(entry!, at);
        return answer.Action switch
        {
            AlarmAction.Comment => Remark(answer, at, entry!, closed),
            AlarmAction.Confirm => Judge(answer, at, entry!, closed, AlarmVerdict.Confirmed),
            AlarmAction.Reject => Judge(answer, at, entry!, closed, AlarmVerdict.Rejected),
            AlarmAction.Acknowledge or AlarmAction.Reset when closed is not null => $"Alarm {closed.Number} ({closed.Rule}, {closed.Subject}) is closed: nothing is left to {(answer.Action == AlarmAction.Reset ? "reset" : "acknowledge")}.",
            AlarmAction.Acknowledge => Step(AlarmInput.Acknowledge, answer, at, entry!),
            AlarmAction.Reset => Step(AlarmInput.Reset, answer, at, entry!),
            AlarmAction.Shelve => Shelve(answer, at, entry!),
            AlarmAction.Unshelve => Unshelve(answer, at, entry!),
            AlarmAction.TakeOutOfService => Step(AlarmInput.TakeOutOfService, answer, at, entry!),
            AlarmAction.ReturnToService => Step(AlarmInput.ReturnToService, answer, at, entry!),
            _ => $"There is no answer '{answer.Action}'.",
        };
    }

    // An occurrence that is closed still names what it was about: shelving and service are meant for that.
    private string? Find(AlarmAnswer answer, Alarm? stored, out BoardEntry? entry, out Alarm? closed)
    {
        closed = null;
        if (answer.Number != 0)
        {
            if (_open.TryGetValue(answer.Number, out entry))
                return null;
            closed = _closed.GetValueOrDefault(answer.Number) ?? (stored?.Number == answer.Number ? stored : null);
            if (closed is null)
                return $"There is no alarm {answer.Number.ToString(CultureInfo.InvariantCulture)}: look at the list of alarms for its number.";
            entry = Entry(closed.Rule, closed.Subject);
            return entry.Rule is null && answer.Action is AlarmAction.Shelve or AlarmAction.TakeOutOfService
                ? $"Rule {closed.Rule} is no longer configured for {closed.Subject}: there is nothing to put aside."
                : null;
        }

        if (_entries.TryGetValue((answer.Rule, answer.Subject), out entry))
            return entry.Rule is null && !entry.Life.Exists ? $"Rule {answer.Rule} is no longer configured for {answer.Subject}." : null;
        if (!_rules.ContainsKey(answer.Rule))
            return $"There is no rule '{answer.Rule}'.";
        if (RuleFor(answer.Rule, answer.Subject) is null)
            return $"Rule {answer.Rule} does not hold for {answer.Subject}.";
        entry = Entry(answer.Rule, answer.Subject);
        return null;
    }

    private string? Step(AlarmInput input, AlarmAnswer answer, DateTimeOffset at, BoardEntry entry)
    {
        var step = entry.Life.Step(input, entry.Rule?.Latch ?? false, Suppressor(entry, at) is not null);
        if (step.Refusal is not null)
            return $"{entry.Words} {step.Refusal}.";
        Apply(entry, step, at, answer.Who, answer.Note);
        return null;
    }

    private string? Shelve(AlarmAnswer answer, DateTimeOffset at, BoardEntry entry)
    {
        if (answer.Until is not { } until)
            return "Shelving needs a time until when.";
        if (until <= at)
            return "The time on the shelf must end in the future.";
        if (until - at > _settings.LongestShelf)
            return $"The longest time on the shelf is {Length(_settings.LongestShelf)}; take the alarm out of service where it is to be longer.";
        if (entry.ShelvedUntil == until)
            return $"{entry.Words} is on the shelf until that time already.";
        var before = entry.ShelvedUntil;
        entry.ShelvedUntil = until;
        if (Step(AlarmInput.Shelve, answer, at, entry) is not { } refusal)
            return null;
        entry.ShelvedUntil = before;
        return refusal;
    }

    private string? Unshelve(AlarmAnswer answer, DateTimeOffset at, BoardEntry entry)
    {
        entry.ShelvedUntil = null;
        return Step(AlarmInput.Unshelve, answer, at, entry);
    }

    private string? Judge(AlarmAnswer answer, DateTimeOffset at, BoardEntry entry, Alarm? closed, AlarmVerdict verdict)
    {
        if ((closed ?? entry.Alarm) is { } alarm && alarm.Verdict == verdict)
            return $"Alarm {alarm.Number} ({alarm.Rule}, {alarm.Subject}) is {verdict.ToName()} already; a comment can say more.";
        return Remark(answer, at, entry, closed, verdict);
    }

    private string? Remark(AlarmAnswer answer, DateTimeOffset at, BoardEntry entry, Alarm? closed, AlarmVerdict? verdict = null)
    {
        var kind = verdict switch { AlarmVerdict.Confirmed => AlarmEventKind.Confirmed, AlarmVerdict.Rejected => AlarmEventKind.Rejected, _ => AlarmEventKind.Commented };
        if (closed is not null)
        {
            closed = closed with { Verdict = verdict ?? closed.Verdict };
            Remember(closed);
            entry.LastEventAt = After(entry, at);
            _events.Enqueue(new AlarmEvent(entry.LastEventAt, kind, closed.Rule, closed.Subject, closed.State, closed.State, closed, answer.Who, answer.Note));
            return null;
        }

        if (entry.Alarm is null)
            return $"{entry.Words} has no open alarm: name the number of the alarm that is meant.";
        entry.Alarm = entry.Alarm with { Verdict = verdict ?? entry.Alarm.Verdict };
        Tell(entry, kind, at, entry.Life.State, answer.Who, answer.Note);
        return null;
    }

    private void Remember(Alarm closed)
    {
        if (!_closed.ContainsKey(closed.Number))
            _closedOrder.Enqueue(closed.Number);
        _closed[closed.Number] = closed;
        if (_closedOrder.Count > MostClosed)
            _closed.Remove(_closedOrder.Dequeue());
    }

    private static string Length(TimeSpan span) => span.TotalHours >= 48 && span.Ticks % TimeSpan.TicksPerDay == 0
        ? string.Create(CultureInfo.InvariantCulture, $"{span.TotalDays:0} days")
        : string.Create(CultureInfo.InvariantCulture, $"{span.TotalHours:0.##} h");
}
