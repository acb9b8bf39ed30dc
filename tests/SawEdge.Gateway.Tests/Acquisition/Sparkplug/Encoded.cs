using Google.Protobuf;
using SawEdge.Gateway.Acquisition.Sparkplug;

namespace SawEdge.Gateway.Tests.Acquisition.Sparkplug;

/// <summary>
/// A metric for a payload that a test makes. The value's type says which field carries it: uint int_value, ulong long_value, and so on
/// (Sparkplug 3.0, chapter 6, message Metric).
/// </summary>
internal sealed record Metric(string? Name, object? Value, SparkplugDataType Type = SparkplugDataType.Double)
{
    public ulong? Alias { get; init; }

    public DateTimeOffset? Time { get; init; }

    public bool IsHistorical { get; init; }

    public bool IsNull { get; init; }

    public int? Quality { get; init; }

    /// <summary>As data should come: the alias alone, without name and type (tck-id-payloads-alias-data-cmd-requirement, -metric-datatype-not-req).</summary>
    public static Metric By(ulong alias, object? value) => new(null, value, SparkplugDataType.Unknown) { Alias = alias };
}

/// <summary>Payloads made with Google's own writer of Protocol Buffers, fields in the order of their numbers.</summary>
internal static class Encoded
{
    public static byte[] Payload(ulong? timestamp, ulong? sequence, params Metric[] metrics) => Message(output =>
    {
        if (timestamp is { } time)
            Number(output, 1, time);
        foreach (var metric in metrics)
            Bytes(output, 2, Message(inner => Write(inner, metric)));
        if (sequence is { } number)
            Number(output, 3, number);
    });

    public static byte[] Message(Action<CodedOutputStream> write)
    {
        using var stream = new MemoryStream();
        using (var output = new CodedOutputStream(stream, leaveOpen: true))
            write(output);
        return stream.ToArray();
    }

    public static void Number(CodedOutputStream output, int field, ulong value)
    {
        output.WriteTag(field, WireFormat.WireType.Varint);
        output.WriteUInt64(value);
    }

    public static void Bytes(CodedOutputStream output, int field, byte[] value)
    {
        output.WriteTag(field, WireFormat.WireType.LengthDelimited);
        output.WriteBytes(ByteString.CopyFrom(value));
    }

    public static void Text(CodedOutputStream output, int field, string value)
    {
        output.WriteTag(field, WireFormat.WireType.LengthDelimited);
        output.WriteString(value);
    }

    private static void Write(CodedOutputStream output, Metric metric)
    {
        if (metric.Name is not null)
            Text(output, 1, metric.Name);
        if (metric.Alias is { } alias)
            Number(output, 2, alias);
        if (metric.Time is { } time)
            Number(output, 3, (ulong)time.ToUnixTimeMilliseconds());
        if (metric.Type != SparkplugDataType.Unknown)
            Number(output, 4, (ulong)metric.Type);
        if (metric.IsHistorical)
            Number(output, 5, 1);
        if (metric.IsNull)
            Number(output, 7, 1);
        if (metric.Quality is { } quality)
            Bytes(output, 9, Properties(quality));
        if (!metric.IsNull)
            WriteValue(output, metric.Value);
    }

    // As the node that is not ours writes them: the quality behind another property.
    private static byte[] Properties(int quality) => Message(set =>
    {
        Text(set, 1, "Engineering Unit");
        Text(set, 1, "Quality");
        Bytes(set, 2, Message(value =>
        {
            Number(value, 1, (ulong)SparkplugDataType.String);
            Text(value, 8, "mm");
        }));
        Bytes(set, 2, Message(value =>
        {
            Number(value, 1, (ulong)SparkplugDataType.Int32);
            Number(value, 3, (ulong)quality);
        }));
    });

    private static void WriteValue(CodedOutputStream output, object? value)
    {
        switch (value)
        {
            case uint number:
                Number(output, 10, number);
                break;
            case ulong number:
                Number(output, 11, number);
                break;
            case float number:
                output.WriteTag(12, WireFormat.WireType.Fixed32);
                output.WriteFloat(number);
                break;
            case double number:
                output.WriteTag(13, WireFormat.WireType.Fixed64);
                output.WriteDouble(number);
                break;
            case bool flag:
                Number(output, 14, flag ? 1UL : 0);
                break;
            case string text:
                Text(output, 15, text);
                break;
            case byte[] bytes:
                Bytes(output, 16, bytes);
                break;
            case Nested nested:
                Bytes(output, nested.Field, nested.Content);
                break;
            case null:
                break;
            default:
                throw new ArgumentException($"No field carries a {value.GetType().Name}.", nameof(value));
        }
    }

    /// <summary>A value that is a message: a data set (17), a template (18) or an extension (19).</summary>
    public sealed record Nested(int Field, byte[] Content);
}
