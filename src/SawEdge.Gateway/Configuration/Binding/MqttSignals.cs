using System.Text;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>One signal's place in MQTT.</summary>
/// <param name="Mapping">The mapping; for a measured number without scale, offset and limits.</param>
/// <param name="Conversion">Scale, unit and limits of a measured number; null for other signals.</param>
/// <param name="Member">The member as it was stated, for checks against the frame's topic.</param>
internal sealed record MqttSignal(MqttMapping Mapping, SignalConversion? Conversion, Setting<string?> Member);

/// <summary>Declares the signals of an MQTT saw.</summary>
internal static class MqttSignals
{
    /// <summary>A topic of one saw, so without wildcards; may hold the saw's name as {saw}.</summary>
    public static ConfigType<string> Topic { get; } = new TextType("topic", "plant/{saw}/frame", text => CheckTopic(text, isOwn: false)) { MaximumLength = 65535, Pattern = "^[^+#]+$" };

    /// <summary>A topic that the gateway publishes to.</summary>
    public static ConfigType<string> OwnTopic { get; } = new TextType("topic", "plant/gateways/hall-2", text => CheckTopic(text, isOwn: true)) { MaximumLength = 65535, Pattern = "^[^+#]+$" };

    /// <summary>A path to a member of a JSON payload.</summary>
    public static ConfigType<string> MemberPath { get; } = new TextType("member path", "head.position", text => text.Split('.').Any(step => step.Trim().Length == 0)
        ? $"{Words.Quoted(text)} has an empty step; write names with a dot between levels, for example \"head.position\""
        : null);

    /// <summary>All signals of an MQTT saw.</summary>
    public static ObjectType<IReadOnlyList<MappedSignal<MqttSignal>>> Type { get; } = SignalTable.Of(
        "mqttSignals",
        "Where the signals are found in the messages. Head position, cutting or cycle_active is needed, and motor_load for everything about load.",
        SignalTable.Shared(MappingOf));

    private static ConfigType<MqttSignal> MappingOf(SignalInfo info) => new ObjectType<MqttSignal>($"mqtt{SignalTable.ShapeOf(info)}", "One signal's place in the messages.", o =>
    {
        var member = o.Optional("member", MemberPath, "The signal's member in the frame's JSON payload, dots between levels.");
        var topic = o.Optional("topic", Topic, "The signal's own topic, whose payload is the bare value.");
        if (member.IsStated && topic.IsStated)
            o.Error(topic, "member is stated as well; keep member (a value in the saw's JSON payload) or topic (a topic of its own)");
        else if (!member.IsStated && !topic.IsStated)
            o.ErrorAt("", "says neither member nor topic; write member (a value in the saw's JSON payload) or topic (a topic of its own)");

        var (mapping, conversion) = ValueMembers.Bind(o, info, new MqttMapping { Signal = info.Signal, Member = member, Topic = topic });
        return new MqttSignal(mapping, conversion, member);
    });

    private static string? CheckTopic(string text, bool isOwn)
    {
        // MQTT 3.1.1 and 5.0, 4.7.1: + and # are wildcards of a filter; 4.7.3: at most 65,535 bytes of UTF-8; 5.0, 4.8.2: shared subscriptions.
        if (text.IndexOfAny(['+', '#']) >= 0)
            return $"{Words.Quoted(text)} holds a wildcard; {(isOwn ? "the gateway's own topic is written in full" : $"a saw's topic is written in full, without + and #, with {SawTopic.Placeholder} for the saw's name")}";
        if (text.StartsWith("$share/", StringComparison.Ordinal))
            return $"{Words.Quoted(text)} is a shared subscription, of which each message goes to one client only; write the topic behind it";
        var rest = isOwn ? text : text.Replace(SawTopic.Placeholder, "", StringComparison.Ordinal);
        if (rest.IndexOfAny(['{', '}']) >= 0)
            return $"{Words.Quoted(text)} holds braces; {(isOwn ? "the gateway's own topic is written in full" : $"a saw's topic can hold {SawTopic.Placeholder} for the saw's name, and nothing else in braces")}";
        return Encoding.UTF8.GetByteCount(text) > 65535 ? "is longer than MQTT allows (65535 bytes)" : null;
    }
}
