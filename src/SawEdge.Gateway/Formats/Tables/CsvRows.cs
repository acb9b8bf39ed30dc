using System.Buffers;
using SawEdge.Core;

namespace SawEdge.Gateway.Formats.Tables;

/// <summary>
/// A table as CSV: RFC 4180, a header, UTF-8 without a byte order mark, times as RFC 3339 with milliseconds, numbers in the
/// shortest form that reads back to the same double, nothing where a value is not known. The same rows give the same bytes.
/// </summary>
/// <remarks>
/// Lines end with LF. RFC 4180 (2.1) writes CRLF, and W3C's "Model for Tabular Data" allows both (from memory); what reads CSV (spreadsheets, Python's
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
