using System.Globalization;
using System.Text;
using System.Text.Json;
using SawEdge.Gateway.Acquisition.Mqtt;

namespace SawEdge.Gateway.Acquisition.Sparkplug;

/// <summary>
/// The state of the gateway as a host application, which nodes may wait for: kept by the broker, quality of service 1
/// (tck-id-host-topic-phid-birth-qos, -retain), JSON with online and timestamp (tck-id-host-topic-phid-birth-payload).
/// </summary>
internal static class HostState
{
    // Whatever else stands in such a message is somebody else's.
    private const int Longest = 4096;

    /// <summary>The message.</summary>
    /// <param name="hostId">The host's identifier.</param>
    /// <param name="isOnline">Whether it is there.</param>
    /// <param name="time">The time of the connection: the same in the last will and when it comes true (tck-id-host-topic-phid-birth-payload-timestamp).</param>
    public static OwnMessage Of(string hostId, bool isOnline, DateTimeOffset time) => new(
        SparkplugTopic.StateOf(hostId),
        Encoding.UTF8.GetBytes(string.Create(CultureInfo.InvariantCulture, $"{{\"online\":{(isOnline ? "true" : "false")},\"timestamp\":{time.ToUnixTimeMilliseconds()}}}")),
        AtLeastOnce: true,
        Retain: true);

    /// <summary>Whether a message says that the host is not there.</summary>
    public static bool SaysOffline(ReadOnlySpan<byte> payload)
    {
        if (payload.Length > Longest)
            return false;
        var reader = new Utf8JsonReader(payload);
        try
        {
            while (reader.Read())
            {
                if (reader.CurrentDepth == 1 && reader.TokenType == JsonTokenType.PropertyName && reader.ValueTextEquals("online"u8))
                    return reader.Read() && reader.TokenType == JsonTokenType.False;
            }
        }
        catch (JsonException)
        {
            // Not what a host application says.
        }

        return false;
    }
}
