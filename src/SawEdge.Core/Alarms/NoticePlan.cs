using System.Diagnostics.CodeAnalysis;

namespace SawEdge.Core.Alarms;

/// <summary>
/// Who is told what and when: hours, digests, reminders, escalation, and in a flood of alarms one message instead of many. Pure: time
/// comes in; not thread safe.
/// </summary>
/// <remarks>
/// An alarm is announced when it becomes unacknowledged (B): when it is raised, raised again after it was acknowledged, or comes out of
/// suppression, from the shelf or back into service. One that comes again while nobody acknowledged it is no news, unless the contact was
/// told meanwhile that it is gone. A contact's filters hold for escalation too.
/// </remarks>
public sealed partial class NoticePlan
{
    private readonly IReadOnlyList<Contact> _contacts;
    private readonly Dictionary<string, ContactBox> _boxes;
    private readonly SortedDictionary<long, ToldAlarm> _alarms = [];
    private readonly Queue<Notice> _notices = new();

    /// <summary>Prepares a plan.</summary>
    /// <param name="contacts">The contacts; names are unique.</param>
    public NoticePlan(IReadOnlyList<Contact> contacts)
    {
        _contacts = contacts;
        _boxes = contacts.ToDictionary(contact => contact.Name, contact => new ContactBox(contact), StringComparer.Ordinal);
    }

    /// <summary>Takes what happened to an alarm, at the time of the event: where alarms and messages go by one clock.</summary>
    public void Take(AlarmEvent happened) => Take(happened, happened.At);

    /// <summary>Takes what happened to an alarm.</summary>
    /// <param name="happened">What happened.</param>
    /// <param name="now">The time that messages go by, as in <see cref="Advance"/>: a saw's clock may be wrong by hours.</param>
    public void Take(AlarmEvent happened, DateTimeOffset now)
    {
        if (happened.Alarm is not { } alarm)
            return;
        var isAnnounced = happened.After == AlarmState.Unacknowledged && happened.Before != AlarmState.Unacknowledged;
        if (!_alarms.TryGetValue(alarm.Number, out var known))
        {
            if (!isAnnounced)
                return;
            known = new ToldAlarm(alarm);
            _alarms.Add(alarm.Number, known);
        }

        known.See(alarm);
        if (isAnnounced)
            Announce(known, happened.Before, now);
        else
            Quiet(known, happened, now);
        ForgetClosed();
    }

    /// <summary>Lets time pass: digests close, hours begin, reminders and escalations fall due.</summary>
    public void Advance(DateTimeOffset now)
    {
        var due = new SortedDictionary<string, List<(long Number, NoticeKind Kind)>>(StringComparer.Ordinal);
        foreach (var alarm in _alarms.Values.Where(alarm => alarm.IsWaiting))
        {
            foreach (var (name, told) in alarm.Told.ToList())
            {
                if (!_boxes.TryGetValue(name, out var box) || told.Since is not { } since)
                    continue;

                // By a clock that was set back the waiting begins anew; it does not last until the clock has caught up.
                if (since > now)
                    told.Since = since = now;
                if (told.Last > now)
                    told.Last = now;
                if (box.Contact.EscalateAfter is { } patience && !told.PassedOn && now - since >= patience)
                {
                    told.PassedOn = true;
                    if (_boxes.TryGetValue(box.Contact.EscalateTo, out var next) && next.Contact.Wants(alarm))
                        PassOn(alarm, next, due, now);
                }

                if (box.Contact.RemindEvery is { } every && now - told.Last >= every && !box.Holds(alarm.Number))
                    Add(due, box, alarm.Number, NoticeKind.Reminder);
            }
        }

        foreach (var (name, items) in due)
            Send(_boxes[name], items, now);
        foreach (var contact in _contacts)
        {
            _boxes[contact.Name].LookAtFlood(now);
            Flush(_boxes[contact.Name], now);
        }

        ForgetClosed();
    }

    /// <summary>Takes the next message that is to go out.</summary>
    public bool TryTake([NotNullWhen(true)] out Notice? notice) => _notices.TryDequeue(out notice);

    private void Announce(ToldAlarm alarm, AlarmState before, DateTimeOffset now)
    {
        // Unacknowledged all the time: whoever knows of it, and was not told that it is gone, knows enough.
        var goesOn = before is AlarmState.ReturnedUnacknowledged or AlarmState.LatchedUnacknowledged;
        if (!goesOn)
        {
            alarm.Told.Clear();
            foreach (var box in _boxes.Values)
                box.Drop(alarm.Number, _ => true);
        }

        foreach (var contact in _contacts)
        {
            var box = _boxes[contact.Name];
            box.Drop(alarm.Number, kind => kind == NoticeKind.Cleared);
            var told = alarm.Told.GetValueOrDefault(contact.Name);
            var isNews = told is null || told.Since is null ? contact.Wants(alarm) && !contact.OnlyEscalated : told.IsGone;
            if (isNews && !box.Holds(alarm.Number))
                Send(box, [(alarm.Number, NoticeKind.Raised)], now);
        }
    }

    private void Quiet(ToldAlarm alarm, AlarmEvent happened, DateTimeOffset now)
    {
        var isOver = alarm.IsClosed || alarm.IsHidden;
        foreach (var contact in _contacts)
        {
            var box = _boxes[contact.Name];
            box.Drop(alarm.Number, kind => isOver ? kind != NoticeKind.Cleared : !alarm.IsWaiting && kind is NoticeKind.Reminder or NoticeKind.Escalated);
            var isTold = alarm.Told.TryGetValue(contact.Name, out var told) && told is { Since: not null, IsGone: false };
            if (happened.Kind == AlarmEventKind.Cleared && !alarm.IsHidden && contact.TellCleared && isTold && !box.Holds(alarm.Number))
                Send(box, [(alarm.Number, NoticeKind.Cleared)], now);
        }
    }

    // Whoever is told at this very moment, or is about to be, needs no second message.
    private static void PassOn(ToldAlarm alarm, ContactBox next, SortedDictionary<string, List<(long Number, NoticeKind Kind)>> due, DateTimeOffset now)
    {
        var told = alarm.With(next.Contact);
        if (told.Escalated || next.Holds(alarm.Number) || (told.Since is not null && told.Last == now))
            return;
        told.Escalated = true;
        Add(due, next, alarm.Number, NoticeKind.Escalated);
    }

    private static void Add(SortedDictionary<string, List<(long Number, NoticeKind Kind)>> due, ContactBox box, long number, NoticeKind kind)
    {
        if (!due.TryGetValue(box.Contact.Name, out var items))
            due[box.Contact.Name] = items = [];
        if (!items.Exists(item => item.Number == number))
            items.Add((number, kind));
    }

    private void Send(ContactBox box, IReadOnlyList<(long Number, NoticeKind Kind)> items, DateTimeOffset now)
    {
        box.Put(items, now);
        if (items is [var (number, kind)] && IsUrgent(box, number, kind, now))
            Tell(box.Contact, [new(number, kind)], now, box.Waiting);
        Flush(box, now);
    }

    // A flood of small things must not keep back what has to be looked at now, unless it is a flood of such itself.
    private bool IsUrgent(ContactBox box, long number, NoticeKind kind, DateTimeOffset now) =>
        box.IsFlooded && box.Contact.Digest == TimeSpan.Zero && kind is NoticeKind.Raised or NoticeKind.Escalated && _alarms[number].Severity == AlarmSeverity.High
        && box.Contact.Hours.Contains(now)
        && _alarms.Values.Count(alarm => alarm.Severity == AlarmSeverity.High && alarm.Told.GetValueOrDefault(box.Contact.Name)?.Last > now - ContactBox.FloodSpan) < ContactBox.FloodFrom;

    private void Flush(ContactBox box, DateTimeOffset now)
    {
        if (box.Waiting.Count > 0 && now >= box.Due && box.Contact.Hours.Contains(now))
            Tell(box.Contact, [.. box.Waiting], now, box.Waiting);
    }

    private void Tell(Contact contact, List<KeyValuePair<long, NoticeKind>> items, DateTimeOffset now, SortedDictionary<long, NoticeKind> waiting)
    {
        var kinds = items.Select(item => item.Value).Distinct().ToList();
        var kind = items.Count == 1 || (kinds.Count == 1 && kinds[0] is NoticeKind.Reminder or NoticeKind.Escalated) ? kinds[0] : NoticeKind.Digest;
        _notices.Enqueue(new Notice(now, kind, contact.Name, contact.Channel, [.. items.Select(item => item.Key)]));
        foreach (var (number, why) in items)
        {
            var told = _alarms[number].With(contact);
            told.Since ??= now;
            told.Last = now;
            told.IsGone = why == NoticeKind.Cleared;
            waiting.Remove(number);
        }
    }

    private void ForgetClosed()
    {
        foreach (var number in _alarms.Where(alarm => alarm.Value.IsClosed && !_boxes.Values.Any(box => box.Holds(alarm.Key))).Select(alarm => alarm.Key).ToList())
            _alarms.Remove(number);
    }
}
