using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Commands.Alarms;

/// <summary>Alarms for programs: metric, units in the data, null where something is not known.</summary>
internal static class AlarmJson
{
    private static readonly JsonWriterOptions Indented = new() { Indented = true, Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    /// <summary>Writes indented JSON into a text.</summary>
    public static string Text(Action<Utf8JsonWriter> write)
    {
        using var bytes = new MemoryStream();
        using (var json = new Utf8JsonWriter(bytes, Indented))
            write(json);
        return Encoding.UTF8.GetString(bytes.ToArray());
    }

    /// <summary>An alarm as an object.</summary>
    public static void Write(Utf8JsonWriter json, Alarm alarm)
    {
        json.WriteStartObject();
        Fields(json, alarm);
        json.WriteEndObject();
    }

    /// <summary>The fields of an alarm.</summary>
    public static void Fields(Utf8JsonWriter json, Alarm alarm)
    {
        json.WriteNumber("number", alarm.Number);
        json.WriteString("rule", alarm.Rule);
        json.WriteString("subject_kind", alarm.Subject.Kind.ToName());
        json.WriteString("subject", alarm.Subject.Name);
        json.WriteString("severity", alarm.Severity.ToName());
        json.WriteString("state", alarm.State.ToName());
        json.WriteString("state_letter", alarm.State.ToLetter().ToString());
        json.WriteBoolean("active", alarm.IsActive);
        json.WriteBoolean("closed", alarm.IsClosed);
        Moment(json, "raised_at", alarm.RaisedAt);
        Moment(json, "cleared_at", alarm.ClearedAt);
        Number(json, "value", alarm.Value);
        Number(json, "limit", alarm.Limit);
        Words(json, "unit", alarm.Unit);
        Words(json, "text", alarm.Text);
        Words(json, "cause", alarm.Cause);
        Words(json, "may_be", alarm.MayBe);
        Words(json, "caution", alarm.Caution);
        Words(json, "cycle_id", alarm.CycleId);
        Moment(json, "acknowledged_at", alarm.AcknowledgedAt);
        Words(json, "acknowledged_by", alarm.AcknowledgedBy);
        Moment(json, "shelved_until", alarm.ShelvedUntil);
        json.WriteBoolean("chattering", alarm.IsChattering);
        json.WriteNumber("activations", alarm.Activations);
        Words(json, "verdict", alarm.Verdict.ToName());
    }

    /// <summary>An event as an object, without its alarm.</summary>
    public static void Write(Utf8JsonWriter json, AlarmEvent happened)
    {
        json.WriteStartObject();
        Moment(json, "at", happened.At);
        json.WriteString("event", happened.Kind.ToName());
        json.WriteString("state_before", happened.Before.ToName());
        json.WriteString("state_after", happened.After.ToName());
        Words(json, "who", happened.Who);
        Words(json, "note", happened.Note);
        json.WriteEndObject();
    }

    /// <summary>A moment, RFC 3339; null where it is not known.</summary>
    public static void Moment(Utf8JsonWriter json, string name, DateTimeOffset? moment)
    {
        if (moment is not { } known)
        {
            json.WriteNull(name);
            return;
        }

        Span<byte> text = stackalloc byte[Rfc3339.MaximumLength];
        json.WriteString(name, text[..Rfc3339.Format(known, text)]);
    }

    /// <summary>A number; null where it is not known.</summary>
    public static void Number(Utf8JsonWriter json, string name, double? value)
    {
        if (value is { } known && double.IsFinite(known))
            json.WriteNumber(name, known);
        else
            json.WriteNull(name);
    }

    /// <summary>A text; null where it is empty.</summary>
    public static void Words(Utf8JsonWriter json, string name, string? text)
    {
        if (string.IsNullOrEmpty(text))
            json.WriteNull(name);
        else
            json.WriteString(name, text);
    }
}
