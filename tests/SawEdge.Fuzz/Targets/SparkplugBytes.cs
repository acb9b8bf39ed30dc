using System.Buffers.Binary;
using System.Text;

namespace SawEdge.Fuzz.Targets;

/// <summary>Sparkplug payloads to begin with (Sparkplug 3.0, chapter 6; the numbers are those of its schema), written byte by byte.</summary>
internal static class SparkplugBytes
{
    public static IReadOnlyList<byte[]> Seeds =>
    [
        Payload(0, Metric("bdSeq", null, 4, [0x58, 0]), Metric("Node Control/Rebirth", null, 11, [0x70, 0])),
        Payload(1, Metric("Head/Position", 11, 10, Double(300)), Metric("Drive/Power", 12, 9, [0x65, 0, 0, 0x80, 0x3F]), Metric("Cutting", 13, 11, [0x70, 1]), Metric("Job", 14, 12, [0x7A, 2, (byte)'J', (byte)'1'])),
        Payload(2, Metric(null, 11, 10, Double(250)), Metric(null, 12, 3, [0x50, 0x9C, 0xFF, 0xFF, 0xFF, 0x0F]), Metric(null, 99, 12, [0x38, 1])),
        Payload(3, Metric(null, 13, 11, [0x4A, 19, 0x0A, 7, .. "Quality"u8, 0x12, 8, 0x08, 3, 0x10, 0, 0x18, 0xF4, 0x03, 0, 0x70, 1])),
        Payload(4, Metric("Set", 20, 16, [0x8A, 1, 3, 1, 2, 3]), Metric("Template", 21, 19, [0x92, 1, 2, 1, 2])),
    ];

    public static IReadOnlyList<byte[]> Tokens =>
    [
        [0x08], [0x18, 0], [0x12], [0x0A], [0x10, 11], [0x10, 12], [0x20, 10], [0x28, 1], [0x38, 1], [0x4A], [0x50], [0x58], [0x61], [0x65], [0x69], [0x70, 1], [0x7A], [0x8A, 1], [0x92, 1], [0x9A, 1],
        [0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0x01], [0xFF, 0xFF, 0xFF, 0xFF, 0x0F], [0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80], [0x0B], [0x0C],
        .. new[] { "Quality", "bdSeq", "Head/Position", "Drive/Power", "Cutting", "Job" }.Select(Encoding.UTF8.GetBytes), [.. Double(double.NaN)], [.. Double(1e300)],
    ];

    /// <summary>Makes the length of the metrics right, whichever of them are there.</summary>
    public static void FixUp(Span<byte> input)
    {
        // Lengths of one byte: from each tag of a metric to the next.
        for (var at = 0; at + 1 < input.Length;)
        {
            if (input[at] != 0x12)
            {
                at++;
                continue;
            }

            var next = input[(at + 2)..].IndexOf((byte)0x12);
            var length = Math.Min(next < 0 ? input.Length - at - 2 : next, 127);
            input[at + 1] = (byte)length;
            at += 2 + length;
        }
    }

    public static byte[] Payload(byte sequence, params byte[][] metrics) =>
        [0x08, 0xE8, 0xC0, 0xB1, 0xC3, 0xCA, 0x33, .. metrics.SelectMany(metric => metric), 0x18, sequence];

    private static byte[] Metric(string? name, byte? alias, byte type, byte[] value)
    {
        byte[] body = [];
        if (name is not null)
            body = [0x0A, (byte)name.Length, .. Encoding.UTF8.GetBytes(name)];
        if (alias is { } number)
            body = [.. body, 0x10, number];
        body = [.. body, 0x20, type, .. value];
        return [0x12, (byte)body.Length, .. body];
    }

    private static byte[] Double(double value)
    {
        var bytes = new byte[9];
        bytes[0] = 0x69;
        BinaryPrimitives.WriteDoubleLittleEndian(bytes.AsSpan(1), value);
        return bytes;
    }
}
