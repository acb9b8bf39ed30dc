using System.Buffers;
using System.Globalization;
using System.IO.Compression;
using SawEdge.Core;

namespace SawEdge.Gateway.Formats.Tables;

/// <summary>
/// A table as CSV: RFC 4180, a header, UTF-8 without a byte order mark, times as RFC 3339 with milliseconds, numbers in the
/// shortest form that reads back to the same double, nothing where a value is not known. The same rows give the same bytes.
/// </summary>
/// <remarks>
/// Lines end with LF. RFC 4180 (2.1) writes CRLF, and W3C's "Model for Tabular Data" allows both; what reads CSV (spreadsheets, Python's
/// csv, pandas, DuckDB) takes either, and with LF alone the tools of Unix (cut, sort, diff) see no stray character at the end of
/// each line. Lines that stand inside of a text stay as they are, in quotes.
/// </remarks>
internal sealed class CsvRows : IRowWriter
{
    private readonly TableHead _head;
    private readonly ColumnType[] _types;
    private readonly bool _isSafe;
    private readonly TextSink _sink;
    private bool _begun;

    /// <summary>A writer.</summary>
    public CsvRows(TableHead head, TableStyle style, Stream stream)
    {
        _head = head;
        _types = [.. head.Columns.Select(column => column.Type)];
        _isSafe = style.IsSafeForSpreadsheets;
        _begun = !style.HasHeader;
        _sink = new TextSink(stream, style.IsCompressed);
    }

    /// <inheritdoc/>
    public async Task WriteAsync(RowBatch batch, CancellationToken cancellation)
    {
        Begin();
        for (var i = 0; i < batch.Count; i++)
        {
            WriteRow(_sink.Buffer, batch.Row(i));
            if (_sink.IsFull)
                await _sink.SendAsync(cancellation);
        }
    }

    /// <inheritdoc/>
    public Task FinishAsync(CancellationToken cancellation)
    {
        Begin();
        return _sink.FinishAsync(cancellation);
    }

    /// <inheritdoc/>
    public ValueTask DisposeAsync() => _sink.DisposeAsync();

    private void Begin()
    {
        if (_begun)
            return;
        _begun = true;
        for (var i = 0; i < _types.Length; i++)
        {
            if (i > 0)
                _sink.Buffer.Write(","u8);
            CsvText.Write(_sink.Buffer, _head.Columns[i].Name);
        }

        _sink.Buffer.Write("\n"u8);
    }

    private void WriteRow(ArrayBufferWriter<byte> buffer, ReadOnlySpan<Cell> row)
    {
        for (var i = 0; i < row.Length; i++)
        {
            if (i > 0)
                buffer.Write(","u8);
            ref readonly var cell = ref row[i];
            if (cell.IsKnown)
                WriteValue(buffer, _types[i], cell);
        }

        buffer.Write("\n"u8);
    }

    private void WriteValue(ArrayBufferWriter<byte> buffer, ColumnType type, in Cell cell)
    {
        switch (type)
        {
            case ColumnType.Text when _isSafe:
                CsvText.WriteForSpreadsheet(buffer, cell.Text);
                break;
            case ColumnType.Text:
                CsvText.Write(buffer, cell.Text);
                break;
            default:
                buffer.Advance(CellText.Format(type, cell, buffer.GetSpan(CellText.Longest)));
                break;
        }
    }
}

/// <summary>Values other than texts as CSV and JSON lines write them.</summary>
internal static class CellText
{
    /// <summary>Bytes that a value takes at most.</summary>
    public const int Longest = 32;

    /// <summary>Writes a number, a moment or a flag.</summary>
    /// <returns>Bytes written.</returns>
    public static int Format(ColumnType type, in Cell cell, Span<byte> destination)
    {
        int length;
        switch (type)
        {
            case ColumnType.Number:
                cell.Number.TryFormat(destination, out length, default, CultureInfo.InvariantCulture);
                return length;
            case ColumnType.Integer:
                cell.Integer.TryFormat(destination, out length, default, CultureInfo.InvariantCulture);
                return length;
            case ColumnType.Time:
                return Rfc3339.Format(DateTimeOffset.FromUnixTimeMilliseconds(cell.Milliseconds), destination);
            default:
                var flag = cell.Flag ? "true"u8 : "false"u8;
                flag.CopyTo(destination);
                return flag.Length;
        }
    }
}

/// <summary>Gathers text and sends it on in pieces, compressed or not.</summary>
internal sealed class TextSink(Stream stream, bool isCompressed) : IAsyncDisposable
{
    private const int SentAtBytes = 64 * 1024;

    private readonly GZipStream? _gzip = isCompressed ? new GZipStream(stream, CompressionLevel.Optimal, leaveOpen: true) : null;

    /// <summary>What was not sent yet.</summary>
    public ArrayBufferWriter<byte> Buffer { get; } = new(2 * SentAtBytes);

    /// <summary>Whether it is time to send.</summary>
    public bool IsFull => Buffer.WrittenCount >= SentAtBytes;

    /// <summary>Sends what was gathered.</summary>
    public async Task SendAsync(CancellationToken cancellation)
    {
        await (_gzip ?? stream).WriteAsync(Buffer.WrittenMemory, cancellation);
        Buffer.ResetWrittenCount();
    }

    /// <summary>Sends the rest and what ends the compressed stream.</summary>
    public async Task FinishAsync(CancellationToken cancellation)
    {
        await SendAsync(cancellation);
        if (_gzip is not null)
            await _gzip.DisposeAsync();
        await stream.FlushAsync(cancellation);
    }

    /// <summary>Lets go; what was not sent is lost.</summary>
    public ValueTask DisposeAsync() => default;
}
