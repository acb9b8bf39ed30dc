using System.Buffers;
using System.Buffers.Binary;
using System.Text;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Processing;

/// <summary>
/// Frames as bytes, for the frames of an open cycle that a restart feeds again. Per frame: time (ticks), one byte of
/// quality a signal, then the good values in the order of <see cref="Signal"/>. Parts can be joined.
/// </summary>
internal static class FrameCodec
{
    /// <summary>Appends a frame.</summary>
    public static void Write(IBufferWriter<byte> to, in SignalFrame frame)
    {
        var head = to.GetSpan(8 + SignalInfo.Count);
        BinaryPrimitives.WriteInt64LittleEndian(head, frame.Time.UtcTicks);
        for (var i = 0; i < SignalInfo.Count; i++)
            head[8 + i] = (byte)frame.QualityOf((Signal)i);
        to.Advance(8 + SignalInfo.Count);
        for (var i = 0; i < SignalInfo.Count; i++)
        {
            var signal = (Signal)i;
            if (!frame.Has(signal))
                continue;
            if (SignalInfo.IsNumeric(signal))
            {
                BinaryPrimitives.WriteDoubleLittleEndian(to.GetSpan(8), frame.Number(signal));
                to.Advance(8);
            }
            else
            {
                var text = frame.Text(signal)!;
                var length = Encoding.UTF8.GetByteCount(text);
                var span = to.GetSpan(2 + length);
                BinaryPrimitives.WriteUInt16LittleEndian(span, (ushort)length);
                Encoding.UTF8.GetBytes(text, span[2..]);
                to.Advance(2 + length);
            }
        }
    }

    /// <summary>Reads the frames of one part.</summary>
    /// <exception cref="FormatException">The bytes are no frames.</exception>
    public static List<SignalFrame> Read(ReadOnlySpan<byte> from)
    {
        var frames = new List<SignalFrame>();
        while (from.Length > 0)
        {
            var head = Take(ref from, 8 + SignalInfo.Count);
            var ticks = BinaryPrimitives.ReadInt64LittleEndian(head);
            if (ticks < DateTimeOffset.MinValue.Ticks || ticks > DateTimeOffset.MaxValue.Ticks)
                throw new FormatException("The stored frames of the open cycle are damaged: a time is out of range.");
            var frame = new SignalFrame(new DateTimeOffset(ticks, TimeSpan.Zero));
            for (var i = 0; i < SignalInfo.Count; i++)
            {
                var signal = (Signal)i;
                var quality = (SignalQuality)head[8 + i];
                if (quality != SignalQuality.Good)
                    frame.Mark(signal, quality);
                else if (SignalInfo.IsNumeric(signal))
                    frame.Set(signal, BinaryPrimitives.ReadDoubleLittleEndian(Take(ref from, 8)));
                else
                    frame.Set(signal, Encoding.UTF8.GetString(Take(ref from, BinaryPrimitives.ReadUInt16LittleEndian(Take(ref from, 2)))));
            }

            frames.Add(frame);
        }

        return frames;
    }

    private static ReadOnlySpan<byte> Take(ref ReadOnlySpan<byte> from, int length)
    {
        if (from.Length < length)
            throw new FormatException("The stored frames of the open cycle are damaged: they end in the middle of a frame.");
        var taken = from[..length];
        from = from[length..];
        return taken;
    }
}
