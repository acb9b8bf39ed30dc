using System.Text.Encodings.Web;
using System.Text.Json;
using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.Notification.Messages;

/// <summary>
/// An alarm as programs read it, the same in webhooks and over MQTT: camelCase of the data contract's words, times RFC 3339 in UTC, numbers in the
/// contract's units. What is not known is absent.
/// </summary>
internal static class AlarmMembers
{
    // Outside of a web page nothing but what JSON itself demands need be escaped; names stay readable.
    public static JsonWriterOptions Options { get; } = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    /// <summary>Writes the members of an alarm into an object that was begun.</summary>
    public static void Write(Utf8JsonWriter json, Alarm alarm)
    {
        json.WriteNumber("number", alarm.Number);
        json.WriteString("rule", alarm.Rule);
        json.WriteString("subjectKind", alarm.Subject.Kind.ToName());
        json.WriteString("subject", alarm.Subject.Name);
        if (alarm.Subject.Kind == AlarmSubjectKind.Saw)
            json.WriteString("saw", alarm.Subject.Name);
        json.WriteString("severity", alarm.Severity.ToName());
        json.WriteString("state", alarm.State.ToName());
        json.WriteString("stateLetter", alarm.State.ToLetter().ToString());
        json.WriteBoolean("active", alarm.IsActive);
        json.WriteBoolean("chattering", alarm.IsChattering);
        json.WriteNumber("activations", alarm.Activations);
        Number("value", alarm.Value);
        Number("limit", alarm.Limit);
        Text("unit", alarm.Unit);
        Text("text", alarm.Text);
        Text("cause", alarm.Cause);
        Text("mayBe", alarm.MayBe);
        Text("caution", alarm.Caution);
        Text("cycleId", alarm.CycleId);
        json.WriteString("raisedAt", alarm.RaisedAt.UtcDateTime);
        Time("clearedAt", alarm.ClearedAt);
        Time("acknowledgedAt", alarm.AcknowledgedAt);
        Text("acknowledgedBy", alarm.AcknowledgedBy);
        Time("shelvedUntil", alarm.ShelvedUntil);
        Text("verdict", alarm.Verdict.ToName());

        void Number(string name, double value)
        {
            if (double.IsFinite(value))
                json.WriteNumber(name, value);
        }

        void Text(string name, string? value)
        {
            if (!string.IsNullOrEmpty(value))
                json.WriteString(name, value);
        }

        void Time(string name, DateTimeOffset? value)
        {
            if (value is { } time)
                json.WriteString(name, time.UtcDateTime);
        }
    }
}
