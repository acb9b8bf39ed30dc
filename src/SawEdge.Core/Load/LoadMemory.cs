using System.Buffers.Binary;
using System.Text;

namespace SawEdge.Core.Load;

/// <summary>Writes what a saw has learned as compact bytes, little-endian; numbers come back bit for bit.</summary>
internal sealed class MemoryWriter
{
    private readonly List<byte> _bytes = new(16 * 1024);

    /// <summary>What was written.</summary>
    public byte[] ToArray() => [.. _bytes];

    /// <summary>Writes a whole number of at least 0.</summary>
    public void Count(int value)
    {
        Span<byte> four = stackalloc byte[4];
        BinaryPrimitives.WriteInt32LittleEndian(four, value);
        _bytes.AddRange(four);
    }

    /// <summary>Writes a moment or a long count.</summary>
    public void Long(long value)
    {
        Span<byte> eight = stackalloc byte[8];
        BinaryPrimitives.WriteInt64LittleEndian(eight, value);
        _bytes.AddRange(eight);
    }

    /// <summary>Writes a number.</summary>
    public void Number(double value) => Long(BitConverter.DoubleToInt64Bits(value));

    /// <summary>Writes a yes or no.</summary>
    public void Flag(bool value) => _bytes.Add(value ? (byte)1 : (byte)0);

    /// <summary>Writes a text.</summary>
    public void Text(string value)
    {
        var bytes = Encoding.UTF8.GetBytes(value);
        Count(bytes.Length);
        _bytes.AddRange(bytes);
    }

    /// <summary>Writes numbers.</summary>
    public void Numbers(ReadOnlySpan<double> values)
    {
        Count(values.Length);
        foreach (var value in values)
            Number(value);
    }

    /// <summary>Writes numbers in single precision.</summary>
    public void Singles(ReadOnlySpan<float> values)
    {
        Count(values.Length);
        Span<byte> four = stackalloc byte[4];
        foreach (var value in values)
        {
            BinaryPrimitives.WriteSingleLittleEndian(four, value);
            _bytes.AddRange(four);
        }
    }
}

/// <summary>Reads what <see cref="MemoryWriter"/> wrote.</summary>
/// <param name="bytes">The bytes.</param>
internal sealed class MemoryReader(ReadOnlyMemory<byte> bytes)
{
    private int _at;

    /// <summary>Reads a whole number from 0 to a greatest one.</summary>
    /// <exception cref="FormatException">There is none.</exception>
    public int Count(int most = int.MaxValue)
    {
        var value = BinaryPrimitives.ReadInt32LittleEndian(Take(4));
        return value >= 0 && value <= most ? value : throw Damaged();
    }

    /// <summary>Reads a moment or a long count.</summary>
    public long Long() => BinaryPrimitives.ReadInt64LittleEndian(Take(8));

    /// <summary>Reads a number.</summary>
    public double Number() => BitConverter.Int64BitsToDouble(Long());

    /// <summary>Reads a yes or no.</summary>
    public bool Flag() => Take(1)[0] != 0;

    /// <summary>Reads a text.</summary>
    public string Text() => Encoding.UTF8.GetString(Take(Count()));

    /// <summary>Reads numbers.</summary>
    public double[] Numbers()
    {
        var values = new double[Count(bytes.Length / 8)];
        for (var i = 0; i < values.Length; i++)
            values[i] = Number();
        return values;
    }

    /// <summary>Reads numbers in single precision.</summary>
    public float[] Singles()
    {
        var values = new float[Count(bytes.Length / 4)];
        for (var i = 0; i < values.Length; i++)
            values[i] = BinaryPrimitives.ReadSingleLittleEndian(Take(4));
        return values;
    }

    private static FormatException Damaged() => new("What was stored of the load score is damaged.");

    private ReadOnlySpan<byte> Take(int length)
    {
        if (length > bytes.Length - _at)
            throw Damaged();
        _at += length;
        return bytes.Span.Slice(_at - length, length);
    }
}
