using System.Buffers;
using System.Text.Json;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Notification.Messages;

namespace SawEdge.Gateway.Notification.Webhooks;

/// <summary>
/// The program's own body of a webhook, shaped as the Standard Webhooks specification recommends: <c>type</c> (<c>alarm.raised</c>,
/// <c>alarm.cleared</c>, <c>alarm.reminder</c>, <c>alarm.escalated</c>, <c>alarm.digest</c>, <c>channel.test</c>), <c>timestamp</c> (when the message was decided) and
/// <c>data</c>: <c>id</c>, <c>site</c>, <c>gateway</c>, <c>channel</c>, <c>contact</c>, <c>subject</c> (the line that a mail would have), <c>text</c> (the whole
/// message as plain text), <c>cautions</c>, <c>alarms</c> (each as <see cref="AlarmMembers"/> has it, besides <c>valueText</c> and <c>limitText</c> as people read them, and
/// <c>links</c> by action), <c>more</c> (alarms left out) and <c>disclaimer</c>. The same message gives the same bytes.
/// </summary>
internal static class WebhookBody
{
    /// <summary>Writes it, UTF-8.</summary>
    public static byte[] Write(Message message)
    {
        var buffer = new ArrayBufferWriter<byte>();
        using var json = new Utf8JsonWriter(buffer, AlarmMembers.Options);
        json.WriteStartObject();
        json.WriteString("type", Type(message.Kind));
        json.WriteString("timestamp", message.At.UtcDateTime);
        json.WriteStartObject("data");
        json.WriteString("id", message.Id);
        json.WriteString("site", message.Site);
        json.WriteString("gateway", message.Gateway);
        json.WriteString("channel", message.Channel);
        json.WriteString("contact", message.Contact);
        json.WriteString("subject", message.Subject);
        json.WriteString("text", PlainText.Write(message));
        json.WriteStartArray("cautions");
        foreach (var caution in message.Cautions)
            json.WriteStringValue(caution);
        json.WriteEndArray();
        json.WriteStartArray("alarms");
        foreach (var alarm in message.Alarms)
            Write(json, alarm);
        json.WriteEndArray();
        json.WriteNumber("more", message.More);
        json.WriteString("disclaimer", message.Footer);
        json.WriteEndObject();
        json.WriteEndObject();
        json.Flush();
        return buffer.WrittenSpan.ToArray();
    }

    /// <summary>The word for a kind of message.</summary>
    public static string Type(NoticeKind kind) => kind switch
    {
        NoticeKind.Raised => "alarm.raised",
        NoticeKind.Cleared => "alarm.cleared",
        NoticeKind.Reminder => "alarm.reminder",
        NoticeKind.Escalated => "alarm.escalated",
        NoticeKind.Digest => "alarm.digest",
        NoticeKind.Test => "channel.test",
        _ => throw new ArgumentOutOfRangeException(nameof(kind)),
    };

    private static void Write(Utf8JsonWriter json, MessageAlarm alarm)
    {
        json.WriteStartObject();
        AlarmMembers.Write(json, alarm.Alarm);
        if (alarm.Value.Length > 0)
            json.WriteString("valueText", alarm.Value);
        if (alarm.Limit.Length > 0)
            json.WriteString("limitText", alarm.Limit);
        json.WriteStartObject("links");
        foreach (var link in alarm.Links)
            json.WriteString(JsonNamingPolicy.CamelCase.ConvertName(link.Action.ToString()), link.Address.AbsoluteUri);
        json.WriteEndObject();
        json.WriteEndObject();
    }
}
