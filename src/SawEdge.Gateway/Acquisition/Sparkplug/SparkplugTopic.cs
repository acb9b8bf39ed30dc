namespace SawEdge.Gateway.Acquisition.Sparkplug;

/// <summary>Types of message that a host application listens to (Sparkplug 3.0, chapter 4).</summary>
internal enum SparkplugMessage
{
    NBirth,
    NData,
    NDeath,
    DBirth,
    DData,
    DDeath,
}

/// <summary>
/// Topics: namespace/group_id/message_type/edge_node_id/[device_id] (tck-id-topic-structure), the namespace being spBv1.0
/// (tck-id-topic-structure-namespace-a).
/// </summary>
internal static class SparkplugTopic
{
    private const string Namespace = "spBv1.0";

    /// <summary>
    /// What to subscribe to for a node. All of its devices, because its messages are numbered through: without the others' no gap
    /// could be told from a message that was not meant for us. Not its commands, which are none of our business.
    /// </summary>
    public static IEnumerable<string> FiltersOf(string group, string node) =>
    [
        $"{Namespace}/{group}/NBIRTH/{node}",
        $"{Namespace}/{group}/NDATA/{node}",
        $"{Namespace}/{group}/NDEATH/{node}",
        $"{Namespace}/{group}/DBIRTH/{node}/+",
        $"{Namespace}/{group}/DDATA/{node}/+",
        $"{Namespace}/{group}/DDEATH/{node}/+",
    ];

    /// <summary>The topic of the host application's own state (tck-id-host-topic-phid-birth-topic).</summary>
    public static string StateOf(string hostId) => $"{Namespace}/STATE/{hostId}";

    /// <summary>The topic of commands to a node.</summary>
    public static string CommandTo(string group, string node) => $"{Namespace}/{group}/NCMD/{node}";

    /// <summary>Takes a topic of a node's message apart.</summary>
    /// <param name="topic">The topic.</param>
    /// <param name="message">What it is.</param>
    /// <param name="group">The group's identifier.</param>
    /// <param name="node">The edge node's identifier.</param>
    /// <param name="device">The device's identifier; empty of a message of the node itself.</param>
    /// <returns>
    /// Whether it is such a topic: with a device where one is due (tck-id-topic-structure-namespace-device-id-associated-message-types)
    /// and without where not (tck-id-topic-structure-namespace-device-id-non-associated-message-types).
    /// </returns>
    public static bool TryParse(ReadOnlySpan<char> topic, out SparkplugMessage message, out ReadOnlySpan<char> group, out ReadOnlySpan<char> node, out ReadOnlySpan<char> device)
    {
        message = default;
        group = node = device = default;
        if (!Next(topic, out var first, out var rest) || first is not Namespace || !Next(rest, out group, out rest) || !Next(rest, out var type, out rest) || group.IsEmpty)
            return false;
        var hasDevice = Next(rest, out node, out device);
        if (!hasDevice)
            node = rest;

        if (node.IsEmpty || hasDevice == device.IsEmpty || device.Contains('/'))
            return false;
        (message, var needsDevice) = type switch
        {
            "NBIRTH" => (SparkplugMessage.NBirth, false),
            "NDATA" => (SparkplugMessage.NData, false),
            "NDEATH" => (SparkplugMessage.NDeath, false),
            "DBIRTH" => (SparkplugMessage.DBirth, true),
            "DDATA" => (SparkplugMessage.DData, true),
            "DDEATH" => (SparkplugMessage.DDeath, true),
            _ => ((SparkplugMessage)(-1), false),
        };
        return message >= 0 && needsDevice == hasDevice;
    }

    /// <summary>Whether a text can be a group's, node's, device's or host's identifier: any UTF-8 except + / and # (tck-id-topic-structure-namespace-valid-*).</summary>
    public static bool IsIdentifier(string text) => text.Length > 0 && text.AsSpan().IndexOfAny('+', '/', '#') < 0;

    private static bool Next(ReadOnlySpan<char> text, out ReadOnlySpan<char> part, out ReadOnlySpan<char> rest)
    {
        var end = text.IndexOf('/');
        part = end < 0 ? default : text[..end];
        rest = end < 0 ? default : text[(end + 1)..];
        return end >= 0;
    }
}
