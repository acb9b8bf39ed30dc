using System.Buffers.Binary;
using System.Runtime.CompilerServices;
using Parquet;
using Parquet.Schema;

namespace SawEdge.Gateway.Formats.Tables;

/// <summary>The least and the greatest value of a column in a row group, as Parquet stores values; null where there is none, or none worth its length.</summary>
internal readonly record struct ParquetBounds(byte[]? Least, byte[]? Greatest);

/// <summary>One column of the row group that is being filled: which rows have a value, and the values of those.</summary>
/// <param name="declared">The field as it stands in the file's schema.</param>
/// <param name="stored">The field by which values are handed over as they are stored: UTF-8, milliseconds.</param>
internal abstract class ParquetColumn(DataField declared, DataField stored)
{
    private readonly ParquetBuffer<byte> _known = new();

    /// <summary>The field as it stands in the file's schema.</summary>
    public DataField Declared { get; } = declared;

    /// <summary>The field by which values are handed over as they are stored.</summary>
    protected DataField Stored { get; } = stored;

    /// <summary>About how many bytes it holds.</summary>
    public virtual long Bytes => _known.Count;

    /// <summary>Adds this column of some rows.</summary>
    public void Add(RowBatch rows, int column, int from, int count)
    {
        for (var i = from; i < from + count; i++)
        {
            ref readonly var cell = ref rows.Row(i)[column];
            _known.Add(cell.IsKnown ? (byte)1 : (byte)0);
            if (cell.IsKnown)
                Add(cell);
        }
    }

    /// <summary>Writes it as the next column of a row group.</summary>
    /// <returns>Its least and greatest value.</returns>
    public abstract Task<ParquetBounds> WriteAsync(ParquetRowGroupWriter group, ParquetOptions options, ParquetScratch scratch, CancellationToken cancellation);

    /// <summary>Takes all rows out.</summary>
    public virtual void Clear() => _known.Clear();

    /// <summary>Adds a value.</summary>
    protected abstract void Add(in Cell cell);

    /// <summary>The definition levels of all rows.</summary>
    protected ReadOnlyMemory<int> Levels(ParquetScratch scratch)
    {
        var levels = ParquetScratch.Room(ref scratch.Levels, _known.Count);
        var known = _known.Span;
        for (var i = 0; i < known.Length; i++)
            levels[i] = known[i];
        return levels.AsMemory(0, known.Length);
    }
}

/// <summary>A column of values of one size.</summary>
internal abstract class ParquetValues<T>(DataField declared, DataField stored) : ParquetColumn(declared, stored)
    where T : unmanaged, IComparable<T>
{
    private readonly ParquetBuffer<T> _values = new();

    /// <inheritdoc/>
    public override long Bytes => base.Bytes + ((long)_values.Count * Unsafe.SizeOf<T>());

    /// <inheritdoc/>
    public override async Task<ParquetBounds> WriteAsync(ParquetRowGroupWriter group, ParquetOptions options, ParquetScratch scratch, CancellationToken cancellation)
    {
        await group.WriteAllPartsAsync(Stored, _values.Memory, Levels(scratch), null, cancellation);
        return Bounds(_values.Span);
    }

    /// <inheritdoc/>
    public override void Clear()
    {
        base.Clear();
        _values.Clear();
    }

    /// <inheritdoc/>
    protected override void Add(in Cell cell) => _values.Add(Read(cell));

    /// <summary>The value of a cell.</summary>
    protected abstract T Read(in Cell cell);

    /// <summary>Stores the least and the greatest value.</summary>
    protected abstract ParquetBounds Store(T least, T greatest);

    private ParquetBounds Bounds(ReadOnlySpan<T> values)
    {
        if (values.IsEmpty)
            return default;
        var (least, greatest) = (values[0], values[0]);
        foreach (var value in values)
        {
            if (value.CompareTo(least) < 0)
                least = value;
            if (value.CompareTo(greatest) > 0)
                greatest = value;
        }

        return Store(least, greatest);
    }
}

/// <summary>A column of doubles.</summary>
internal sealed class ParquetNumbers(DataField field) : ParquetValues<double>(field, field)
{
    /// <inheritdoc/>
    protected override double Read(in Cell cell) => cell.Number;

    /// <inheritdoc/>
    // Both zeros are equal, and a bound must hold for either (parquet.thrift, at ColumnOrder).
    protected override ParquetBounds Store(double least, double greatest) => new(Bits(least == 0 ? -0.0 : least), Bits(greatest == 0 ? 0.0 : greatest));

    private static byte[] Bits(double value)
    {
        var bytes = new byte[sizeof(double)];
        BinaryPrimitives.WriteDoubleLittleEndian(bytes, value);
        return bytes;
    }
}

/// <summary>A column of whole numbers or of moments in milliseconds.</summary>
internal sealed class ParquetIntegers(DataField declared, DataField stored) : ParquetValues<long>(declared, stored)
{
    /// <inheritdoc/>
    protected override long Read(in Cell cell) => cell.Integer;

    /// <inheritdoc/>
    protected override ParquetBounds Store(long least, long greatest) => new(Bits(least), Bits(greatest));

    private static byte[] Bits(long value)
    {
        var bytes = new byte[sizeof(long)];
        BinaryPrimitives.WriteInt64LittleEndian(bytes, value);
        return bytes;
    }
}

/// <summary>A column of flags.</summary>
internal sealed class ParquetFlags(DataField field) : ParquetValues<bool>(field, field)
{
    /// <inheritdoc/>
    protected override bool Read(in Cell cell) => cell.Flag;

    /// <inheritdoc/>
    protected override ParquetBounds Store(bool least, bool greatest) => new([least ? (byte)1 : (byte)0], [greatest ? (byte)1 : (byte)0]);
}
