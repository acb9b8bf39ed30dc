using System.Text;
using SawEdge.Gateway.Acquisition.Mqtt;

namespace SawEdge.Gateway.Acquisition.Sparkplug;

/// <summary>
/// When a node may be asked for its births, and how: the one thing that is ever sent to a node, and only where the configuration allows
/// it. While it is needed again and again, the node is asked at growing intervals, because its births are a burden on everybody.
/// </summary>
internal sealed class BirthRequests
{
    /// <summary>Least time between two requests to a node.</summary>
    public static readonly TimeSpan ShortestPause = TimeSpan.FromSeconds(10);

    /// <summary>Time between two requests to a node that are of no help.</summary>
    public static readonly TimeSpan LongestPause = TimeSpan.FromMinutes(10);

    private DateTimeOffset? _asked;
    private TimeSpan _pause = ShortestPause;

    /// <summary>Whether a node may be asked now; then it counts as asked.</summary>
    /// <param name="now">The time.</param>
    /// <param name="isFirst">Whether it was not asked for long.</param>
    public bool MayAsk(DateTimeOffset now, out bool isFirst)
    {
        isFirst = _asked is null || now - _asked > 2 * LongestPause;
        if (_asked is { } asked)
        {
            if (now - asked < _pause)
                return false;

            // Needed again soon, the request was of no help.
            var wasHelp = now - asked > 3 * _pause;
            _pause = wasHelp ? ShortestPause : _pause * 2 < LongestPause ? _pause * 2 : LongestPause;
        }

        _asked = now;
        return true;
    }

    /// <summary>
    /// The request: a command with the metric "Node Control/Rebirth", true (tck-id-operational-behavior-data-commands-ncmd-rebirth-name and
    /// -value), by its name because it has no alias (tck-id-operational-behavior-data-commands-rebirth-name-aliases); quality of service 0,
    /// not kept (tck-id-topics-ncmd-mqtt).
    /// </summary>
    public static OwnMessage Of(string group, string node, DateTimeOffset time)
    {
        var milliseconds = (ulong)Math.Max(0, time.ToUnixTimeMilliseconds());
        List<byte> metric = [];
        WriteBytes(metric, 1, Encoding.UTF8.GetBytes("Node Control/Rebirth")); // name
        WriteNumber(metric, 3, milliseconds); // timestamp
        WriteNumber(metric, 4, (ulong)SparkplugDataType.Boolean); // datatype
        WriteNumber(metric, 14, 1); // boolean_value
        List<byte> payload = [];
        WriteNumber(payload, 1, milliseconds); // timestamp
        WriteBytes(payload, 2, [.. metric]); // metrics
        return new OwnMessage(SparkplugTopic.CommandTo(group, node), [.. payload], AtLeastOnce: false, Retain: false);
    }

    private static void WriteNumber(List<byte> into, int field, ulong value)
    {
        WriteVarint(into, (ulong)(field << 3) | (ulong)WireType.Varint);
        WriteVarint(into, value);
    }

    private static void WriteBytes(List<byte> into, int field, byte[] value)
    {
        WriteVarint(into, (ulong)(field << 3) | (ulong)WireType.Bytes);
        WriteVarint(into, (ulong)value.Length);
        into.AddRange(value);
    }

    private static void WriteVarint(List<byte> into, ulong value)
    {
        for (; value >= 0x80; value >>= 7)
            into.Add((byte)(value | 0x80));
        into.Add((byte)value);
    }
}
