using System.IO.Compression;
using Parquet;
using Parquet.Schema;
using SawEdge.Core;

namespace SawEdge.Gateway.Formats.Tables;

/// <summary>
/// A table as Apache Parquet: texts UTF-8, moments TIMESTAMP (milliseconds, UTC), numbers DOUBLE, whole numbers INT64, flags BOOLEAN; a value
/// that is not known is null. What the columns are stands in the file's metadata (<see cref="ParquetFooter"/>). The same rows give the same
/// bytes. Memory: one row group.
/// </summary>
internal sealed class ParquetRows : IRowWriter
{
    /// <summary>
    /// Rows of a row group: with the 42 columns of a cycle about 40 MB in memory, and pages of 0.8 MB before compression; about what readers
    /// expect of one (DuckDB makes them of 122,880 rows). A plant of fifty saws fills one in five days, so that a question for a day reads one
    /// or two. Half as many rows took as long to write and 0.1 % more room.
    /// </summary>
    public const int UsualGroup = 100_000;

    /// <summary>Bytes after which a row group is full, however few rows it has: texts may be long.</summary>
    public const long UsualGroupBytes = 64 << 20;

    // So often the bytes are looked at.
    private const int Slice = 250;

    private readonly TableHead _head;
    private readonly ForwardStream _stream;
    private readonly int _group;
    private readonly long _groupBytes;
    private readonly ParquetColumn[] _columns;
    private readonly ParquetSchema _schema;
    private readonly ParquetScratch _scratch = new();
    private readonly List<ParquetBounds[]> _bounds = [];
    private readonly ParquetOptions _options;
    private ParquetWriter? _writer;
    private int _rows;

    /// <summary>Begins a table.</summary>
    /// <param name="head">The table.</param>
    /// <param name="stream">Where to; need not be able to seek; left open.</param>
    /// <param name="group">Rows of a row group.</param>
    /// <param name="groupBytes">Bytes after which a row group is full.</param>
    /// <param name="options">Compression; null: as measured to be best.</param>
    public ParquetRows(TableHead head, Stream stream, int group = UsualGroup, long groupBytes = UsualGroupBytes, ParquetOptions? options = null)
    {
        (_head, _stream, _group, _groupBytes) = (head, new ForwardStream(stream), group, groupBytes);

        // Measured with 200,000 cycles: numbers that never repeat take 35.5 MB (snappy 40.1), the same 60 cuts over and over 0.4 MB (3.7), at a
        // fifth more processor time. Level 3 takes as much room and longer.
        _options = options ?? new ParquetOptions { CompressionMethod = CompressionMethod.Zstd, CompressionLevel = CompressionLevel.Fastest };
        _schema = new ParquetSchema(head.Columns.Select(Declared));

        // A field belongs to a schema, hence a second one for values as they are stored.
        var stored = new ParquetSchema(head.Columns.Select(Stored));
        _columns = [.. head.Columns.Select((column, i) => Column(column.Type, _schema.DataFields[i], stored.DataFields[i]))];
        foreach (var column in _columns.OfType<ParquetIntegers>())
            _options.ColumnEncodingHints[column.Declared.Path.ToString()] = EncodingHint.DeltaBinaryPacked;
    }

    /// <inheritdoc/>
    public async Task WriteAsync(RowBatch batch, CancellationToken cancellation)
    {
        cancellation.ThrowIfCancellationRequested();
        for (var from = 0; from < batch.Count;)
        {
            var count = Math.Min(Math.Min(Slice, _group - _rows), batch.Count - from);
            for (var i = 0; i < _columns.Length; i++)
                _columns[i].Add(batch, i, from, count);
            from += count;
            _rows += count;
            if (_rows == _group || _columns.Sum(column => column.Bytes) >= _groupBytes)
                await WriteGroupAsync(cancellation);
        }
    }

    /// <inheritdoc/>
    public async Task FinishAsync(CancellationToken cancellation)
    {
        if (_rows > 0)
            await WriteGroupAsync(cancellation);
        var writer = await OpenAsync(cancellation);
        ParquetFooter.Complete(writer, _head, _bounds);
        await writer.DisposeAsync();
        await _stream.FlushAsync(cancellation);
    }

    /// <inheritdoc/>
    // The library's writer writes the file's end where it is disposed: that is done in FinishAsync only.
    public ValueTask DisposeAsync() => ValueTask.CompletedTask;

    private async Task WriteGroupAsync(CancellationToken cancellation)
    {
        var writer = await OpenAsync(cancellation);
        var bounds = new ParquetBounds[_columns.Length];
        using (var group = writer.CreateRowGroup())
        {
            for (var i = 0; i < _columns.Length; i++)
            {
                bounds[i] = await _columns[i].WriteAsync(group, _options, _scratch, cancellation);
                _columns[i].Clear();
            }
        }

        _bounds.Add(bounds);
        _rows = 0;
    }

    private async Task<ParquetWriter> OpenAsync(CancellationToken cancellation)
    {
        _stream.Cancellation = cancellation;
        return _writer ??= await ParquetWriter.CreateAsync(_schema, _stream, _options, cancellationToken: cancellation);
    }

    private static DataField Declared(TableColumn column) => column.Type switch
    {
        ColumnType.Text => new DataField(column.Name, typeof(string), isNullable: true),
        ColumnType.Time => new DateTimeDataField(column.Name, DateTimeFormat.Timestamp, isAdjustedToUTC: true, unit: DateTimeTimeUnit.Millis, isNullable: true),
        _ => Stored(column),
    };

    private static DataField Stored(TableColumn column) => column.Type switch
    {
        ColumnType.Text => new DataField(column.Name, typeof(byte[]), isNullable: true, isArray: false),
        ColumnType.Time or ColumnType.Integer => new DataField(column.Name, typeof(long), isNullable: true),
        ColumnType.Number => new DataField(column.Name, typeof(double), isNullable: true),
        _ => new DataField(column.Name, typeof(bool), isNullable: true),
    };

    private static ParquetColumn Column(ColumnType type, DataField declared, DataField stored) => type switch
    {
        ColumnType.Text => new ParquetTexts(declared, stored),
        ColumnType.Time or ColumnType.Integer => new ParquetIntegers(declared, stored),
        ColumnType.Number => new ParquetNumbers(declared),
        _ => new ParquetFlags(declared),
    };
}
