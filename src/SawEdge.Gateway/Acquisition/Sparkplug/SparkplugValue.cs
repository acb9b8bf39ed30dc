using System.Globalization;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Acquisition.Sparkplug;

/// <summary>
/// Reads a metric's value by its type (Sparkplug 3.0, chapter 6, Data Types): signed numbers come as two's complement in an unsigned
/// field, of 32 bits up to Int32 and of 64 bits beyond. Some publishers fill small signed numbers up to 32 bits and some do not, and
/// some write all whole numbers into the long field: both are read. Beyond that a value must fit its type.
/// </summary>
internal static class SparkplugValue
{
    private const int GoodQuality = 192;

    /// <summary>Whether a value of this type can be a signal's.</summary>
    public static bool IsReadable(SparkplugDataType type) =>
        type is >= SparkplugDataType.Int8 and <= SparkplugDataType.Uuid;

    /// <summary>Puts a metric's value into a frame.</summary>
    /// <param name="signal">The signal that it is.</param>
    /// <param name="metric">The metric.</param>
    /// <param name="type">Its type, as it was born.</param>
    /// <param name="bytes">The payload in which the metric's texts stand.</param>
    /// <param name="frame">Takes the value, or why there is none.</param>
    /// <returns>Whether the signal can be such a value.</returns>
    public static bool Set(MappedSignal signal, in SparkplugMetric metric, SparkplugDataType type, ReadOnlySpan<byte> bytes, ref SignalFrame frame)
    {
        if (metric.IsNull)
        {
            frame.Mark(signal.Signal, SignalQuality.NotRead);
            return true;
        }

        // 0: bad, 500: stale; whatever else a publisher may say is not good either.
        if (metric.Quality >= 0 && metric.Quality != GoodQuality)
        {
            frame.Mark(signal.Signal, SignalQuality.SourceFault);
            return true;
        }

        switch (type)
        {
            case SparkplugDataType.String or SparkplugDataType.Text or SparkplugDataType.Uuid when metric.Kind == SparkplugValueKind.String:
                return signal.SetText(bytes.Slice(metric.ValueStart, metric.ValueLength), ref frame);
            case SparkplugDataType.Boolean when metric.Kind == SparkplugValueKind.Boolean:
                return signal.SetFlag(metric.Raw != 0, ref frame);
            case SparkplugDataType.Float or SparkplugDataType.Double when metric.Kind == SparkplugValueKind.Float:
                return signal.SetNumber(BitConverter.UInt32BitsToSingle((uint)metric.Raw), ref frame);
            case SparkplugDataType.Float or SparkplugDataType.Double when metric.Kind == SparkplugValueKind.Double:
                return signal.SetNumber(BitConverter.UInt64BitsToDouble(metric.Raw), ref frame);
            case SparkplugDataType.UInt64 or SparkplugDataType.DateTime when IsWhole(metric.Kind):
                return SetWhole(signal, metric.Raw, ref frame);
            default:
                return TryReadSigned(metric, type, out var whole) ? SetWhole(signal, whole, ref frame) : signal.SetInvalid(ref frame);
        }
    }

    /// <summary>Writes a value as a person would, for one who looks at a saw.</summary>
    /// <returns>Bytes written into <paramref name="into"/>, UTF-8.</returns>
    public static int Write(in SparkplugMetric metric, SparkplugDataType type, ReadOnlySpan<byte> bytes, Span<byte> into)
    {
        if (metric.IsNull)
            return Copy("null"u8, into);
        var written = 0;
        switch (metric.Kind)
        {
            case SparkplugValueKind.String:
                return Copy(bytes.Slice(metric.ValueStart, metric.ValueLength), into);
            case SparkplugValueKind.Boolean:
                return Copy(metric.Raw != 0 ? "true"u8 : "false"u8, into);
            case SparkplugValueKind.Float:
                BitConverter.UInt32BitsToSingle((uint)metric.Raw).TryFormat(into, out written, default, CultureInfo.InvariantCulture);
                return written;
            case SparkplugValueKind.Double:
                BitConverter.UInt64BitsToDouble(metric.Raw).TryFormat(into, out written, default, CultureInfo.InvariantCulture);
                return written;
            case SparkplugValueKind.Int or SparkplugValueKind.Long:
                if (TryReadSigned(metric, type, out var whole))
                    whole.TryFormat(into, out written, default, CultureInfo.InvariantCulture);
                else
                    metric.Raw.TryFormat(into, out written, default, CultureInfo.InvariantCulture);
                return written;
            default:
                return Copy("no value that can be read"u8, into);
        }
    }

    private static bool IsWhole(SparkplugValueKind kind) => kind is SparkplugValueKind.Int or SparkplugValueKind.Long;

    private static bool TryReadSigned(in SparkplugMetric metric, SparkplugDataType type, out long value)
    {
        value = metric.Kind == SparkplugValueKind.Int ? (int)(uint)metric.Raw : (long)metric.Raw;
        if (!IsWhole(metric.Kind))
            return false;
        var unsigned = metric.Raw;
        switch (type)
        {
            case SparkplugDataType.Int8 when value is >= sbyte.MinValue and <= byte.MaxValue:
                value = (sbyte)value;
                return true;
            case SparkplugDataType.Int16 when value is >= short.MinValue and <= ushort.MaxValue:
                value = (short)value;
                return true;
            case SparkplugDataType.Int32 when value is >= int.MinValue and <= uint.MaxValue:
                value = (int)value;
                return true;
            case SparkplugDataType.Int64:
                return true;
            case SparkplugDataType.UInt8 when unsigned <= byte.MaxValue:
            case SparkplugDataType.UInt16 when unsigned <= ushort.MaxValue:
            case SparkplugDataType.UInt32 when unsigned <= uint.MaxValue:
                value = (long)unsigned;
                return true;
            default:
                return false;
        }
    }

    // As digits where it is to be a text, because a double does not hold all of 64 bits.
    private static bool SetWhole<T>(MappedSignal signal, T value, ref SignalFrame frame)
        where T : struct, IUtf8SpanFormattable, System.Numerics.INumberBase<T>
    {
        if (signal.Kind != SignalKind.Text)
            return signal.SetNumber(double.CreateChecked(value), ref frame);
        Span<byte> digits = stackalloc byte[24];
        return value.TryFormat(digits, out var length, default, CultureInfo.InvariantCulture) ? signal.SetText(digits[..length], ref frame) : signal.SetInvalid(ref frame);
    }

    private static int Copy(ReadOnlySpan<byte> text, Span<byte> into)
    {
        var length = Math.Min(text.Length, into.Length);
        text[..length].CopyTo(into);
        return length;
    }
}
