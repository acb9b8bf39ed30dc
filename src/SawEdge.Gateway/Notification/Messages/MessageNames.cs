using System.Text.Encodings.Web;
using System.Text.Json;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Notification.Messages;

/// <summary>The names that a template of a webhook's body can use. Of a message about several alarms those about one are of the most urgent.</summary>
public static class MessageNames
{
    /// <summary>
    /// <c>id</c> (the same at each try), <c>type</c>, <c>time</c>, <c>site</c>, <c>gateway</c>, <c>channel</c>, <c>contact</c>, <c>title</c> (one line), <c>message</c> (all of it as plain
    /// text), <c>alarms</c> (how many), <c>caution</c>; of the alarm <c>alarm</c> (its number), <c>rule</c>, <c>subject</c>, <c>saw</c>, <c>severity</c>, <c>state</c>, <c>text</c>, <c>value</c> and <c>limit</c> (with
    /// units, as people read them), <c>value_number</c>, <c>limit_number</c>, <c>unit</c>, <c>raised_at</c>, <c>cause</c>, <c>may_be</c>, <c>cycle_id</c>, <c>job</c>, <c>acknowledge_link</c>, <c>shelve_link</c>.
    /// </summary>
    public static IReadOnlyList<string> Webhook => WebhookOptions.BodyNames;

    /// <summary>How single strings are written as JSON.</summary>
    internal static JsonSerializerOptions Json { get; } = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };
}
