using System.Buffers;
using System.Text.Json;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Notification.Messages;

namespace SawEdge.Gateway.Notification.Mqtt;

/// <summary>
/// The payload of an alarm's topic: <c>event</c> (the number of what happened last; rises), <c>at</c>, <c>kind</c>, <c>who</c>, <c>note</c>, <c>rule</c>, <c>subjectKind</c>,
/// <c>subject</c>, <c>state</c>, <c>stateBefore</c>, and <c>alarm</c> (the occurrence as <see cref="AlarmMembers"/> has it; absent where there is none). Pure.
/// </summary>
internal static class StatePayload
{
    /// <summary>Writes what an alarm is after an event.</summary>
    public static byte[] Write(StoredAlarmEvent stored)
    {
        var happened = stored.Event;
        return Object(json =>
        {
            json.WriteNumber("event", stored.Id);
            json.WriteString("at", happened.At.UtcDateTime);
            json.WriteString("kind", happened.Kind.ToName());
            if (happened.Who.Length > 0)
                json.WriteString("who", happened.Who);
            if (happened.Note.Length > 0)
                json.WriteString("note", happened.Note);
            json.WriteString("rule", happened.Rule);
            json.WriteString("subjectKind", happened.Subject.Kind.ToName());
            json.WriteString("subject", happened.Subject.Name);
            json.WriteString("state", happened.After.ToName());
            json.WriteString("stateBefore", happened.Before.ToName());
            if (happened.Alarm is not { } alarm)
                return;
            json.WriteStartObject("alarm");
            AlarmMembers.Write(json, alarm);
            json.WriteEndObject();
        });
    }

    /// <summary>Writes a message that tries the channel.</summary>
    public static byte[] WriteTest(Notice notice, string words) => Object(json =>
    {
        json.WriteString("at", notice.At.UtcDateTime);
        json.WriteString("kind", "test");
        json.WriteString("contact", notice.Contact);
        json.WriteString("text", words);
    });

    private static byte[] Object(Action<Utf8JsonWriter> members)
    {
        var buffer = new ArrayBufferWriter<byte>();
        using var json = new Utf8JsonWriter(buffer, AlarmMembers.Options);
        json.WriteStartObject();
        members(json);
        json.WriteEndObject();
        json.Flush();
        return buffer.WrittenSpan.ToArray();
    }
}
