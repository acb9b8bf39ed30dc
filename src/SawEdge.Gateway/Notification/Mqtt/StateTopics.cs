using System.Text;
using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.Notification.Mqtt;

/// <summary>
/// The tree of topics: <c>ROOT/SITE/GATEWAY/alarm/KIND/SUBJECT/RULE</c> holds, retained, the state of each alarm that ever was, for example
/// <c>sawedge/North plant/gateway1/alarm/saw/saw1/overload</c>; <c>ROOT/SITE/GATEWAY/test</c> gets a message that is not retained where a person tries the channel.
/// In names the characters that mean something in topics (<c>/ + #</c>), control characters and <c>%</c> are written as <c>%</c> and two hexadecimal digits.
/// </summary>
/// <param name="root">First part; may hold slashes.</param>
/// <param name="site">Name of the plant.</param>
/// <param name="gateway">Name of the gateway.</param>
internal sealed class StateTopics(string root, string site, string gateway)
{
    private readonly string _base = string.Join('/', root.Trim('/').Split('/').Append(site).Append(gateway).Select(Part));

    /// <summary>The topic of messages that try the channel.</summary>
    public string Test => _base + "/test";

    /// <summary>The topic of an alarm.</summary>
    public string Of(AlarmSubject subject, string rule) => $"{_base}/alarm/{subject.Kind.ToName()}/{Part(subject.Name)}/{Part(rule)}";

    /// <summary>A name as one part of a topic: two names never give the same part.</summary>
    public static string Part(string name)
    {
        // An empty level is allowed but many programs cannot show it; a lone % can come from no name.
        if (name.Length == 0)
            return "%";
        var part = new StringBuilder(name.Length);
        foreach (var rune in name.EnumerateRunes())
        {
            // [MQTT-1.5.4-2] forbids the null character; control characters may get a client disconnected.
            if (Rune.IsControl(rune) || rune.Value is '/' or '+' or '#' or '%')
                part.Append('%').Append(rune.Value.ToString("X2", System.Globalization.CultureInfo.InvariantCulture));
            else
                part.Append(rune);
        }

        return part.ToString();
    }
}
