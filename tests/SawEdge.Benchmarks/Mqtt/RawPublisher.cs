using System.Buffers.Text;
using System.Globalization;
using System.Net.Sockets;
using System.Text;

namespace SawEdge.Benchmarks.Mqtt;

/// <summary>
/// Publishes JSON payloads of 200 bytes for a number of saws over a bare socket as fast as the broker takes them, in a process of its
/// own, so that the publisher costs as little as possible of what is measured. Each payload has a time of its own, which rises.
/// </summary>
internal static class RawPublisher
{
    /// <summary>Saws that are published for.</summary>
    public const int Saws = 10;

    /// <summary>Bytes of a payload.</summary>
    public const int PayloadBytes = 200;

    private const int InOneGo = 100;
    private const int TimeDigits = 19;

    /// <summary>The topic of a saw.</summary>
    public static string Topic(int saw) => string.Create(CultureInfo.InvariantCulture, $"bench/saw-{saw}/frame");

    /// <summary>Publishes until the process is ended.</summary>
    /// <param name="port">The broker's port on loopback.</param>
    /// <param name="quality">Quality of service, 0 or 1; with 1 up to 100 messages wait for their acknowledgement.</param>
    public static void Run(int port, int quality)
    {
        using var client = new TcpClient("127.0.0.1", port);
        client.NoDelay = true;
        using var stream = client.GetStream();

        // MQTT 3.1.1, 3.1: protocol MQTT, level 4, clean session, no keep-alive, identifier "p".
        stream.Write([0x10, 13, 0, 4, (byte)'M', (byte)'Q', (byte)'T', (byte)'T', 4, 2, 0, 0, 0, 1, (byte)'p']);
        var acknowledgements = new byte[InOneGo * 4];
        stream.ReadExactly(acknowledgements, 0, 4);
        var batch = new MemoryStream();
        var times = new List<int>();
        for (var i = 0; i < InOneGo; i++)
        {
            var packet = Packet(i, quality, out var timeAt);
            times.Add((int)batch.Length + timeAt);
            batch.Write(packet);
        }

        var bytes = batch.ToArray();
        var time = DateTimeOffset.UtcNow.ToUnixTimeMilliseconds() * 1_000_000;
        while (true)
        {
            // Nanoseconds since 1970, a microsecond apart: slower than any clock, so that no payload is ever ahead.
            foreach (var at in times)
                Utf8Formatter.TryFormat(time += 1000, bytes.AsSpan(at, TimeDigits), out _);
            stream.Write(bytes);
            if (quality > 0)
                stream.ReadExactly(acknowledgements);
        }
    }

    private static byte[] Packet(int number, int quality, out int timeAt)
    {
        var topic = Encoding.UTF8.GetBytes(Topic(number % Saws));
        var text = string.Create(CultureInfo.InvariantCulture, $$"""{"time":{{new string('1', TimeDigits)}},"head_position":{{250 - (number * 0.25)}},"motor_load":{{1.5 + (number * 0.01)}},"blade_speed":71.5,"cutting":true,"cycle_active":true,"part_count":1234,"job":"TQ-17","note":""");
        var payload = Encoding.UTF8.GetBytes($"{text}\"{new string('x', PayloadBytes - text.Length - 3)}\"}}");
        byte[] identifier = quality > 0 ? [0, (byte)(number + 1)] : [];
        byte[] body = [0, (byte)topic.Length, .. topic, .. identifier, .. payload];
        byte[] packet = [(byte)(0x30 | (quality << 1)), (byte)((body.Length & 0x7F) | 0x80), (byte)(body.Length >> 7), .. body];
        timeAt = packet.Length - payload.Length + "{\"time\":".Length;
        return payload.Length == PayloadBytes ? packet : throw new InvalidOperationException($"A payload has {payload.Length} bytes.");
    }
}
