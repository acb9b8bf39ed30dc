using System.Buffers;
using System.Text.Encodings.Web;
using System.Text.Json;
using SawEdge.Core;

namespace SawEdge.Gateway.Formats.Tables;

/// <summary>
/// A table as one JSON object a line (LF), UTF-8 without a byte order mark: each has all columns in order, named as they are; null is what is not
/// known, so that no number is ever NaN. Times are RFC 3339 with milliseconds, numbers in the shortest form that reads back to the same double.
/// Texts are as they are: nothing runs formulas here.
/// </summary>
internal sealed class JsonLinesRows : IRowWriter
{
    private readonly (JsonEncodedText Name, ColumnType Type)[] _columns;
    private readonly TextSink _sink;
    private readonly Utf8JsonWriter _json;

    /// <summary>A writer.</summary>
    public JsonLinesRows(TableHead head, TableStyle style, Stream stream)
    {
        _columns = [.. head.Columns.Select(column => (JsonEncodedText.Encode(column.Name), column.Type))];
        _sink = new TextSink(stream, style.IsCompressed);

        // No page takes these lines in: letters of other languages need not become six characters each.
        _json = new Utf8JsonWriter(_sink.Buffer, new JsonWriterOptions { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping, SkipValidation = true });
    }

    /// <inheritdoc/>
    public async Task WriteAsync(RowBatch batch, CancellationToken cancellation)
    {
        for (var i = 0; i < batch.Count; i++)
        {
            WriteRow(batch.Row(i));
            if (_sink.IsFull)
                await _sink.SendAsync(cancellation);
        }
    }

    /// <inheritdoc/>
    public Task FinishAsync(CancellationToken cancellation) => _sink.FinishAsync(cancellation);

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        await _json.DisposeAsync();
        await _sink.DisposeAsync();
    }

    private void WriteRow(ReadOnlySpan<Cell> row)
    {
        Span<byte> time = stackalloc byte[CellText.Longest];
        _json.Reset();
        _json.WriteStartObject();
        for (var i = 0; i < row.Length; i++)
        {
            var (name, type) = _columns[i];
            ref readonly var cell = ref row[i];
            if (!cell.IsKnown)
                _json.WriteNull(name);
            else if (type == ColumnType.Text)
                _json.WriteString(name, cell.Text);
            else if (type == ColumnType.Number)
                _json.WriteNumber(name, cell.Number);
            else if (type == ColumnType.Integer)
                _json.WriteNumber(name, cell.Integer);
            else if (type == ColumnType.Flag)
                _json.WriteBoolean(name, cell.Flag);
            else
                _json.WriteString(name, time[..CellText.Format(type, cell, time)]);
        }

        _json.WriteEndObject();
        _json.Flush();
        _sink.Buffer.Write("\n"u8);
    }
}
