namespace SawEdge.Gateway.Acquisition.Sparkplug;

/// <summary>
/// Reads a Sparkplug B payload (Sparkplug 3.0, chapter 6, Google Protocol Buffer Schema; the numbers beside the fields are its own).
/// What a saw cannot use (data sets, templates, metadata, extensions) is stepped over by its length, so the depth of what is looked at
/// is fixed. Allocates nothing for a payload that is good, and nothing that grows with what a payload claims.
/// </summary>
internal static class SparkplugDecoder
{
    private const string BrokenOff = "it breaks off, or is no Protocol Buffers message";

    /// <summary>Reads a payload.</summary>
    /// <param name="bytes">The payload; the places in <paramref name="into"/> are places in it.</param>
    /// <param name="into">Takes what it says; of no use where it could not be read.</param>
    /// <param name="trouble">What is wrong with it; empty where nothing is.</param>
    /// <returns>Whether it could be read.</returns>
    public static bool TryDecode(ReadOnlySpan<byte> bytes, SparkplugPayload into, out string trouble)
    {
        into.Clear();
        trouble = "";
        var reader = new WireReader(bytes, 0, bytes.Length);
        while (!reader.IsAtEnd)
        {
            if (!TryReadField(bytes, ref reader, into, ref trouble))
            {
                if (trouble.Length == 0)
                    trouble = BrokenOff;
                return false;
            }
        }

        return true;
    }

    private static bool TryReadField(ReadOnlySpan<byte> bytes, ref WireReader reader, SparkplugPayload into, ref string trouble)
    {
        if (!reader.TryReadTag(out var field, out var type))
            return false;
        ulong number;
        switch (field, type)
        {
            case (1, WireType.Varint): // timestamp
                var isTime = reader.TryReadVarint(out number);
                into.Timestamp = number;
                return isTime;
            case (3, WireType.Varint): // seq
                var isSequence = reader.TryReadVarint(out number);
                into.Sequence = number;
                return isSequence;
            case (2, WireType.Bytes): // metrics
                if (!reader.TryReadBytes(out var start, out var length) || !TryReadMetric(bytes, start, length, out var metric))
                    return false;
                if (into.TryAdd(in metric))
                    return true;
                trouble = $"it holds more than {SparkplugPayload.MaximumMetrics} metrics";
                return false;
            default: // 4: uuid, 5: body, and extensions
                return reader.TrySkip(type);
        }
    }

    private static bool TryReadMetric(ReadOnlySpan<byte> bytes, int start, int length, out SparkplugMetric metric)
    {
        metric = new SparkplugMetric { NameLength = -1, Quality = -1 };
        var reader = new WireReader(bytes, start, length);
        while (!reader.IsAtEnd)
        {
            if (!reader.TryReadTag(out var field, out var type) || !TryReadMetricField(bytes, ref reader, field, type, ref metric))
                return false;
        }

        return true;
    }

    private static bool TryReadMetricField(ReadOnlySpan<byte> bytes, ref WireReader reader, int field, WireType type, ref SparkplugMetric metric)
    {
        switch (field, type)
        {
            case (1, WireType.Bytes): // name
                return reader.TryReadBytes(out metric.NameStart, out metric.NameLength);
            case (2, WireType.Varint): // alias
                metric.HasAlias = true;
                return reader.TryReadVarint(out metric.Alias);
            case (3, WireType.Varint): // timestamp
                metric.HasTimestamp = true;
                return reader.TryReadVarint(out metric.Timestamp);
            case (4, WireType.Varint): // datatype
                var isType = reader.TryReadVarint(out var dataType);
                metric.DataType = (SparkplugDataType)(uint)dataType;
                return isType;
            case (5, WireType.Varint): // is_historical
                return TryReadFlag(ref reader, out metric.IsHistorical);
            case (7, WireType.Varint): // is_null
                return TryReadFlag(ref reader, out metric.IsNull);
            case (9, WireType.Bytes): // properties
                return reader.TryReadBytes(out var start, out var length) && TryReadQuality(bytes, start, length, out metric.Quality);
            case (10, WireType.Varint): // int_value: uint32, two's complement where the type is signed
                metric.Kind = SparkplugValueKind.Int;
                var isInt = reader.TryReadVarint(out var number);
                metric.Raw = (uint)number;
                return isInt;
            case (11, WireType.Varint): // long_value: uint64, two's complement where the type is signed
                metric.Kind = SparkplugValueKind.Long;
                return reader.TryReadVarint(out metric.Raw);
            case (12, WireType.Fixed32): // float_value
                metric.Kind = SparkplugValueKind.Float;
                var isFloat = reader.TryReadFixed32(out var bits);
                metric.Raw = bits;
                return isFloat;
            case (13, WireType.Fixed64): // double_value
                metric.Kind = SparkplugValueKind.Double;
                return reader.TryReadFixed64(out metric.Raw);
            case (14, WireType.Varint): // boolean_value
                metric.Kind = SparkplugValueKind.Boolean;
                return reader.TryReadVarint(out metric.Raw);
            case ( >= 15 and <= 19, WireType.Bytes): // string_value, bytes_value, dataset_value, template_value, extension_value
                metric.Kind = SparkplugValueKind.String + (byte)(field - 15);
                return reader.TryReadBytes(out metric.ValueStart, out metric.ValueLength);
            default: // 6: is_transient, 8: metadata
                return reader.TrySkip(type);
        }
    }

    private static bool TryReadFlag(ref WireReader reader, out bool value)
    {
        var good = reader.TryReadVarint(out var number);
        value = number != 0;
        return good;
    }

    // A PropertySet holds the keys (1) and the values (2) side by side, in whatever order on the wire.
    private static bool TryReadQuality(ReadOnlySpan<byte> bytes, int start, int length, out int quality)
    {
        quality = -1;
        var wanted = -1;
        var keys = new WireReader(bytes, start, length);
        for (var key = 0; !keys.IsAtEnd;)
        {
            if (!keys.TryReadTag(out var field, out var type))
                return false;
            if (field != 1 || type != WireType.Bytes)
            {
                if (!keys.TrySkip(type))
                    return false;
                continue;
            }

            if (!keys.TryReadBytes(out var keyStart, out var keyLength))
                return false;
            if (bytes.Slice(keyStart, keyLength).SequenceEqual("Quality"u8))
                wanted = key;
            key++;
        }

        if (wanted < 0)
            return true;
        var values = new WireReader(bytes, start, length);
        for (var value = 0; !values.IsAtEnd;)
        {
            if (!values.TryReadTag(out var field, out var type))
                return false;
            if (field != 2 || type != WireType.Bytes)
            {
                if (!values.TrySkip(type))
                    return false;
                continue;
            }

            if (!values.TryReadBytes(out var valueStart, out var valueLength))
                return false;
            if (value++ == wanted)
                return TryReadQualityValue(bytes, valueStart, valueLength, out quality);
        }

        return true;
    }

    private static bool TryReadQualityValue(ReadOnlySpan<byte> bytes, int start, int length, out int quality)
    {
        quality = -1;
        var reader = new WireReader(bytes, start, length);
        while (!reader.IsAtEnd)
        {
            if (!reader.TryReadTag(out var field, out var type))
                return false;
            if (field is 3 or 4 && type == WireType.Varint) // int_value; long_value by those who write all whole numbers so
            {
                if (!reader.TryReadVarint(out var number))
                    return false;
                quality = number <= int.MaxValue ? (int)number : int.MaxValue;
            }
            else if (!reader.TrySkip(type))
            {
                return false;
            }
        }

        return true;
    }
}
