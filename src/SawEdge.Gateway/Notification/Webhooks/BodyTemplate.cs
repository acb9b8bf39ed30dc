using System.Globalization;
using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;
using SawEdge.Gateway.Notification.Messages;

namespace SawEdge.Gateway.Notification.Webhooks;

/// <summary>
/// A webhook's body by the plant's own template, for receivers that want a form of their own. A name within a JSON string is replaced by its
/// text, escaped; a name outside of one by a whole JSON string, or by a number or <c>null</c> for <c>value_number</c>, <c>limit_number</c>,
/// <c>alarm</c> and <c>alarms</c>. Whatever a controller put into a job's name, it stays within its string.
/// </summary>
/// <param name="template">The template; its names are of <see cref="WebhookOptions.BodyNames"/>.</param>
internal sealed class BodyTemplate(AlarmTemplate template)
{
    private static readonly JsonSerializerOptions Options = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    /// <summary>Writes the body, UTF-8.</summary>
    public byte[] Write(Message message)
    {
        var facts = Facts(message);
        return Encoding.UTF8.GetBytes(JsonTemplate.Fill(template, (name, inString) => Json(facts.GetValueOrDefault(name), inString)));
    }

    private static string Json(object? value, bool inString)
    {
        if (inString)
            return JavaScriptEncoder.UnsafeRelaxedJsonEscaping.Encode(Convert.ToString(value, CultureInfo.InvariantCulture) ?? "");
        return value switch
        {
            null => "null",
            double number => double.IsFinite(number) ? number.ToString("R", CultureInfo.InvariantCulture) : "null",
            long whole => whole.ToString(CultureInfo.InvariantCulture),
            _ => JsonSerializer.Serialize((string)value, Options),
        };
    }

    private static Dictionary<string, object?> Facts(Message message)
    {
        var first = message.Alarms.Count > 0 ? message.Alarms[0] : null;
        string Fact(string name) => first?.Facts.FirstOrDefault(fact => fact.Name == name).Value ?? "";
        string Link(AlarmAction action) => first?.Links.FirstOrDefault(link => link.Action == action)?.Address.AbsoluteUri ?? "";
        return new Dictionary<string, object?>(StringComparer.Ordinal)
        {
            ["id"] = message.Id,
            ["type"] = WebhookBody.Type(message.Kind),
            ["time"] = Rfc3339Text(message.At),
            ["site"] = message.Site,
            ["gateway"] = message.Gateway,
            ["channel"] = message.Channel,
            ["contact"] = message.Contact,
            ["title"] = message.Subject,
            ["message"] = PlainText.Write(message),
            ["alarms"] = (long)(message.Alarms.Count + message.More),
            ["caution"] = string.Join(" ", message.Cautions),
            ["alarm"] = first?.Alarm.Number,
            ["rule"] = first?.Alarm.Rule ?? "",
            ["subject"] = first?.Alarm.Subject.Name ?? "",
            ["saw"] = first is { Alarm.Subject: { Kind: AlarmSubjectKind.Saw, Name: var saw } } ? saw : "",
            ["severity"] = first?.Alarm.Severity.ToName() ?? "",
            ["state"] = first?.Alarm.State.ToName() ?? "",
            ["text"] = first?.Text ?? message.Lead,
            ["value"] = first?.Value ?? "",
            ["value_number"] = first?.Alarm.Value,
            ["limit"] = first?.Limit ?? "",
            ["limit_number"] = first?.Alarm.Limit,
            ["unit"] = first?.Alarm.Unit ?? "",
            ["raised_at"] = first is null ? "" : Rfc3339Text(first.Alarm.RaisedAt),
            ["cause"] = first?.Alarm.Cause ?? "",
            ["may_be"] = first?.MayBe ?? "",
            ["cycle_id"] = first?.Alarm.CycleId ?? "",
            ["job"] = Fact("Job"),
            ["acknowledge_link"] = Link(AlarmAction.Acknowledge),
            ["shelve_link"] = Link(AlarmAction.Shelve),
        };
    }

    private static string Rfc3339Text(DateTimeOffset at)
    {
        Span<byte> text = stackalloc byte[Rfc3339.MaximumLength];
        return Encoding.ASCII.GetString(text[..Rfc3339.Format(at, text)]);
    }
}
