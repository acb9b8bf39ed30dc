using System.Buffers.Binary;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.History;

/// <summary>
/// The figures of a sample as bytes: version (1), then for each of <see cref="SignalSample.Signals"/> its form (1) and what the form needs. All
/// little-endian, values as 32-bit floats, which come back bit for bit.
/// </summary>
/// <remarks>
/// The low three bits of a form: 0 no good value; 1 always 0; 2 always 1; 3 always the same, one float follows; 4 mean, least, greatest, last
/// follow; 5 between 0 and 1, last 0, and 6 the same, last 1: the mean follows. Bit 3: not all frames had a good value, and their number
/// follows first (4). A saw that stands takes about a third of one that cuts.
/// </remarks>
internal static class SampleCodec
{
    private const byte Version = 1;
    private const int FewerThanFrames = 8;

    private enum Form
    {
        None,
        Zero,
        One,
        Same,
        Varying,
        UnitLastZero,
        UnitLastOne,
    }

    /// <summary>The bytes of a sample's figures.</summary>
    public static byte[] Encode(in SignalSample sample)
    {
        Span<byte> data = stackalloc byte[1 + (SignalSample.Signals.Count * 21)];
        data[0] = Version;
        Span<float> values = stackalloc float[4];
        var at = 1;
        foreach (ref readonly var one in sample.Figures)
        {
            var form = FormOf(one);
            data[at++] = (byte)((int)form | (form != Form.None && one.Count < sample.Frames ? FewerThanFrames : 0));
            if ((data[at - 1] & FewerThanFrames) != 0)
            {
                BinaryPrimitives.WriteInt32LittleEndian(data[at..], one.Count);
                at += 4;
            }

            foreach (var value in Stored(form, one, values))
            {
                BinaryPrimitives.WriteSingleLittleEndian(data[at..], value);
                at += 4;
            }
        }

        return data[..at].ToArray();
    }

    /// <summary>The sample of some bytes.</summary>
    /// <param name="from">Begin of the interval.</param>
    /// <param name="every">Its length.</param>
    /// <param name="frames">Frames in it.</param>
    /// <param name="data">The bytes.</param>
    /// <exception cref="InvalidDataException">They are no sample of a known version.</exception>
    public static SignalSample Decode(DateTimeOffset from, TimeSpan every, int frames, ReadOnlySpan<byte> data)
    {
        if (data.IsEmpty || data[0] != Version)
            throw new InvalidDataException(data.IsEmpty ? "A stored sample is empty." : $"A stored sample has version {data[0]}; this program knows version {Version}.");
        var figures = new SignalFigures[SignalSample.Signals.Count];
        data = data[1..];
        foreach (ref var one in figures.AsSpan())
        {
            var form = Take(ref data, 1)[0];
            var count = (form & FewerThanFrames) != 0 ? BinaryPrimitives.ReadInt32LittleEndian(Take(ref data, 4)) : frames;
            if ((Form)form == Form.None)
                continue;
            if (count < 1 || count > frames)
                throw new InvalidDataException($"A stored sample of {frames} frames has a value that comes in {count} of them.");
            one = (Form)(form & ~FewerThanFrames) switch
            {
                Form.Zero => Same(count, 0),
                Form.One => Same(count, 1),
                Form.Same => Same(count, Float(ref data)),
                Form.Varying => new SignalFigures(count, Float(ref data), Float(ref data), Float(ref data), Float(ref data)),
                Form.UnitLastZero => new SignalFigures(count, Float(ref data), 0, 1, 0),
                Form.UnitLastOne => new SignalFigures(count, Float(ref data), 0, 1, 1),
                _ => throw new InvalidDataException($"A stored sample has a value of form {form}, which this program does not know."),
            };
        }

        if (data.Length > 0)
            throw new InvalidDataException($"A stored sample is {data.Length} bytes longer than its values.");
        return new SignalSample(from, every, frames, figures);
    }

    private static Form FormOf(in SignalFigures one) => one switch
    {
        { Count: 0 } => Form.None,
        _ when Is(one, Same(one.Count, 0)) => Form.Zero,
        _ when Is(one, Same(one.Count, 1)) => Form.One,
        _ when Is(one, Same(one.Count, one.Last)) => Form.Same,
        _ when Is(one, one with { Least = 0, Greatest = 1, Last = 0 }) => Form.UnitLastZero,
        _ when Is(one, one with { Least = 0, Greatest = 1, Last = 1 }) => Form.UnitLastOne,
        _ => Form.Varying,
    };

    private static Span<float> Stored(Form form, in SignalFigures one, Span<float> values)
    {
        (values[0], values[1], values[2], values[3]) = (one.Mean, one.Least, one.Greatest, one.Last);
        return values[..(form switch { Form.Varying => 4, Form.Same or Form.UnitLastZero or Form.UnitLastOne => 1, _ => 0 })];
    }

    // Bit for bit: a negative zero comes back as one.
    private static bool Is(in SignalFigures a, in SignalFigures b) => Bits(a.Mean, b.Mean) && Bits(a.Least, b.Least) && Bits(a.Greatest, b.Greatest) && Bits(a.Last, b.Last);

    private static bool Bits(float a, float b) => BitConverter.SingleToInt32Bits(a) == BitConverter.SingleToInt32Bits(b);

    private static SignalFigures Same(int count, float value) => new(count, value, value, value, value);

    private static float Float(ref ReadOnlySpan<byte> data) => BinaryPrimitives.ReadSingleLittleEndian(Take(ref data, 4));

    private static ReadOnlySpan<byte> Take(ref ReadOnlySpan<byte> data, int length)
    {
        if (data.Length < length)
            throw new InvalidDataException("A stored sample ends in the middle of a value.");
        var taken = data[..length];
        data = data[length..];
        return taken;
    }
}
