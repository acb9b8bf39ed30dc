using System.Text.Json;

namespace SawEdge.Core.Alarms;

/// <content>What survives a restart.</content>
public sealed partial class NoticePlan
{
    private const int MemoryVersion = 1;

    /// <summary>All that must survive a restart, as JSON.</summary>
    public string Save() => JsonSerializer.Serialize(new SavedPlan(
        MemoryVersion,
        [.. _alarms.Values.Select(alarm => new SavedAlarm(alarm.Number, alarm.Rule, alarm.Subject, alarm.Severity, alarm.State, alarm.IsClosed,
            [.. alarm.Told.Select(told => new SavedTold(told.Key, told.Value.Since, told.Value.Last, told.Value.IsGone, told.Value.PassedOn, told.Value.Escalated))]))],
        [.. _boxes.Values.Where(box => box.Waiting.Count > 0 || box.Recent.Count > 0).Select(box => new SavedBox(
            box.Contact.Name, box.Due, box.IsFlooded, box.Recent, [.. box.Waiting.Select(item => new SavedItem(item.Key, item.Value))]))]), AlarmJson.Options);

    /// <summary>Continues from what <see cref="Save"/> gave. What was planned for contacts that are gone is dropped.</summary>
    /// <exception cref="FormatException">It is nothing that this version saved.</exception>
    public void Restore(string saved)
    {
        var plan = AlarmJson.Read<SavedPlan>(saved, "messages");
        if (plan.Version != MemoryVersion)
            throw new FormatException($"The memory of the messages is of version {plan.Version}; this program reads version {MemoryVersion}.");
        var alarms = new SortedDictionary<long, ToldAlarm>();
        foreach (var alarm in plan.Alarms.Whole())
        {
            var known = new ToldAlarm(alarm.Rule, alarm.Subject, alarm.Severity) { Number = alarm.Number, State = alarm.State, IsClosed = alarm.IsClosed };
            foreach (var told in alarm.Told.Whole().Where(told => _boxes.ContainsKey(told.Contact)))
                known.Told[told.Contact] = new ToldContact { Since = told.Since, Last = told.Last, IsGone = told.IsGone, PassedOn = told.PassedOn, Escalated = told.Escalated };
            if (!alarms.TryAdd(alarm.Number, known))
                throw new FormatException($"The memory of the messages holds alarm {alarm.Number} twice.");
        }

        if (plan.Boxes.Whole().SelectMany(box => box.Waiting.Whole()).FirstOrDefault(item => !alarms.ContainsKey(item.Number)) is { } unknown)
            throw new FormatException($"The memory of the messages plans one about alarm {unknown.Number}, which it does not hold.");

        _alarms.Clear();
        foreach (var (number, alarm) in alarms)
            _alarms.Add(number, alarm);
        foreach (var contact in _contacts)
            _boxes[contact.Name] = new ContactBox(contact);
        foreach (var box in plan.Boxes)
        {
            if (!_boxes.TryGetValue(box.Contact, out var restored))
                continue;
            (restored.Due, restored.IsFlooded) = (box.Due, box.IsFlooded);
            restored.Recent.AddRange(box.Recent);
            foreach (var item in box.Waiting)
                restored.Waiting[item.Number] = item.Kind;
        }

        ForgetClosed();
    }

    private sealed record SavedPlan(int Version, IReadOnlyList<SavedAlarm> Alarms, IReadOnlyList<SavedBox> Boxes);

    private sealed record SavedAlarm(long Number, string Rule, AlarmSubject Subject, AlarmSeverity Severity, AlarmState State, bool IsClosed, IReadOnlyList<SavedTold> Told);

    private sealed record SavedTold(string Contact, DateTimeOffset? Since, DateTimeOffset Last, bool IsGone, bool PassedOn, bool Escalated);

    private sealed record SavedBox(string Contact, DateTimeOffset Due, bool IsFlooded, IReadOnlyList<DateTimeOffset> Recent, IReadOnlyList<SavedItem> Waiting);

    private sealed record SavedItem(long Number, NoticeKind Kind);
}
