using System.Globalization;
using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Notification.Messages;

/// <summary>What the history knows about an alarm when its message leaves.</summary>
/// <param name="Alarm">The alarm.</param>
/// <param name="Cycle">The cycle that raised it, or null.</param>
/// <param name="Picture">The cut's load along its depth, or null.</param>
internal sealed record AlarmMaterial(Alarm Alarm, CycleRecord? Cycle = null, Picture? Picture = null);

/// <summary>Writes messages. Pure, but for the links, which are new each time.</summary>
/// <param name="style">How the plant reads.</param>
/// <param name="links">Makes links; null: messages carry none.</param>
internal sealed class MessageBuilder(MessageStyle style, AnswerLinks? links)
{
    /// <summary>Alarms that are told one by one at most; a phone shows no more that anybody reads.</summary>
    public const int MostAlarms = 20;

    private const int LongestSubject = 120;

    /// <summary>How the plant reads.</summary>
    public MessageStyle Style => style;

    /// <summary>The message of one notice, or of several to one contact.</summary>
    /// <param name="notices">The notices, in order; all to one contact by one channel.</param>
    /// <param name="material">The alarms that are still known, each once.</param>
    /// <param name="waited">Whether they were held up.</param>
    /// <param name="now">The time.</param>
    public Message Build(IReadOnlyList<StoredNotice> notices, IReadOnlyList<AlarmMaterial> material, bool waited, DateTimeOffset now)
    {
        var first = notices[0].Notice;
        var kinds = notices.Select(stored => stored.Notice.Kind).Distinct().ToList();
        var kind = kinds.Count == 1 ? kinds[0] : NoticeKind.Digest;
        var ordered = material.OrderByDescending(item => item.Alarm.Severity).ThenBy(item => item.Alarm.Number).ToList();
        var told = ordered.Take(MostAlarms).Select(item => Tell(item, first.Contact, now)).ToList();
        return new Message
        {
            Id = style.Identity(first.Channel, "notice", notices[0].Id, first.At),
            Notices = [.. notices.Select(stored => stored.Id)],
            Kind = kind,
            Contact = first.Contact,
            Channel = first.Channel,
            Site = MessageStyle.Line(style.Site),
            Gateway = MessageStyle.Line(style.Gateway),
            At = first.At,
            Subject = MessageStyle.Short(MessageStyle.Line(Subject(kind, ordered)), LongestSubject),
            Lead = Lead(kind, notices, ordered.Count, waited),
            Alarms = told,
            More = ordered.Count - told.Count,
            Cautions = [.. ordered.Select(item => MessageStyle.Line(item.Alarm.Caution)).Where(caution => caution.Length > 0).Distinct(StringComparer.Ordinal)],
            Footer = $"From gateway {MessageStyle.Line(style.Gateway)} at {MessageStyle.Line(style.Site)}, channel {MessageStyle.Line(first.Channel)}, to {MessageStyle.Line(first.Contact)}. The gateway is no safety device: it sees late and may see wrongly. Local codes and qualified people decide.",
        };
    }

    private string Subject(NoticeKind kind, List<AlarmMaterial> alarms)
    {
        if (kind == NoticeKind.Test)
            return $"Test message from {style.Gateway}, {style.Site}";
        var prefix = kind switch
        {
            NoticeKind.Cleared => "Over: ",
            NoticeKind.Reminder => "Reminder: ",
            NoticeKind.Escalated => "Not acknowledged: ",
            _ => "",
        };
        if (alarms is [var only])
            return $"{prefix}{MessageStyle.Capital(only.Alarm.Severity.ToName())}: {What(only.Alarm)}";
        if (alarms.Count == 0)
            return $"{prefix}Alarms that are not in the history any more";
        var counts = string.Join(", ", alarms.GroupBy(item => item.Alarm.Severity).Select(group => string.Create(CultureInfo.InvariantCulture, $"{group.Count()} {group.Key.ToName()}")));
        var subjects = alarms.Select(item => item.Alarm.Subject.ToString()).Distinct(StringComparer.Ordinal).ToList();
        return string.Create(CultureInfo.InvariantCulture, $"{prefix}{alarms.Count} alarms ({counts}): {string.Join(", ", subjects)}");
    }

    // Most texts begin with the name of what they are about; that need not be said twice.
    private static string What(Alarm alarm)
    {
        var (subject, text) = (alarm.Subject.ToString(), MessageStyle.Line(alarm.Text));
        return text.Length == 0 ? $"{subject}: {alarm.Rule}"
            : text.StartsWith(subject, StringComparison.Ordinal) || text.StartsWith(alarm.Subject.Name, StringComparison.Ordinal) ? text
            : $"{subject}: {text}";
    }

    private string Lead(NoticeKind kind, IReadOnlyList<StoredNotice> notices, int alarms, bool waited)
    {
        var one = alarms == 1;
        var words = kind switch
        {
            NoticeKind.Raised => one ? "An alarm was raised." : "Alarms were raised.",
            NoticeKind.Cleared => one ? "The condition of this alarm is gone." : "The conditions of these alarms are gone.",
            NoticeKind.Reminder => one ? "Nobody has acknowledged this alarm yet." : "Nobody has acknowledged these alarms yet.",
            NoticeKind.Escalated => one ? "Others were told of this alarm and nobody has acknowledged it." : "Others were told of these alarms and nobody has acknowledged them.",
            NoticeKind.Digest => "What came together since the last message, as it is now.",
            _ => "A person tries this channel. Nothing is wrong, and nothing is to be done.",
        };
        if (!waited)
            return words;
        var at = style.Moment(notices[0].Notice.At);
        return notices.Count == 1
            ? $"{words} This message was held up: it is from {at} and could not be delivered before. What it says is as it is now."
            : string.Create(CultureInfo.InvariantCulture, $"{words} {notices.Count} messages, the first from {at}, were held up because they could not be delivered; they come in this one. What it says is as it is now.");
    }

    private MessageAlarm Tell(AlarmMaterial item, string contact, DateTimeOffset now)
    {
        var alarm = item.Alarm;
        var (value, limit) = (style.Quantity(alarm.Value, alarm.Unit), style.Quantity(alarm.Limit, alarm.Unit));
        var facts = new List<(string, string)>();
        Add(MessageStyle.Capital(alarm.Subject.Kind.ToName()), alarm.Subject.Name);
        Add("Severity", alarm.Severity.ToName());
        Add("Value", value);
        Add("Limit", limit);
        Add("Raised", style.Moment(alarm.RaisedAt));
        Add("Gone", alarm.ClearedAt is { } cleared ? style.Moment(cleared) : "");
        Add("State", style.State(alarm));
        Add("Times", alarm.Activations > 1 ? alarm.Activations.ToString(CultureInfo.InvariantCulture) : "");
        Add("Job", item.Cycle?.Job);
        Add("Material", item.Cycle?.Material);
        Add("Section", item.Cycle?.Section);
        Add("Blade", item.Cycle?.Blade);
        Add("Cut", alarm.CycleId);
        Add("Alarm", string.Create(CultureInfo.InvariantCulture, $"{alarm.Number}, rule {alarm.Rule}"));
        return new MessageAlarm
        {
            Alarm = alarm,
            Text = What(alarm),
            Value = value,
            Limit = limit,
            Facts = facts,
            MayBe = MessageStyle.Line(alarm.MayBe),
            Picture = item.Picture,
            Links = links?.For(alarm, contact, now) ?? [],
        };

        void Add(string name, string? text)
        {
            if (MessageStyle.Line(text ?? "") is { Length: > 0 } line)
                facts.Add((name, line));
        }
    }
}
