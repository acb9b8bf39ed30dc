using System.Buffers;
using System.Globalization;
using System.Text.Encodings.Web;
using System.Text.Json;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Formats;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands.Alarms;

/// <summary>Form of an exported journal.</summary>
internal enum JournalForm
{
    /// <summary>A table: RFC 4180 with LF, texts that a spreadsheet would take for formulas made harmless.</summary>
    Csv,

    /// <summary>One JSON object a line.</summary>
    JsonLines,
}

/// <summary>
/// The journal of the alarms, every transition one row: for records that outlive the gateway, and for spreadsheets. The columns of
/// both forms are the same; the same events give the same bytes.
/// </summary>
internal static class AlarmJournal
{
    private const int WriteAtBytes = 64 * 1024;

    private static readonly JsonWriterOptions OneLine = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    // Text, number (double), moment or whole number (long) of an event.
    private static readonly (string Name, Func<StoredAlarmEvent, object?> Get)[] Columns =
    [
        ("id", row => row.Id),
        ("at", row => row.Event.At),
        ("event", row => row.Event.Kind.ToName()),
        ("rule", row => row.Event.Rule),
        ("subject_kind", row => row.Event.Subject.Kind.ToName()),
        ("subject", row => row.Event.Subject.Name),
        ("state_before", row => row.Event.Before.ToName()),
        ("state_after", row => row.Event.After.ToName()),
        ("who", row => row.Event.Who),
        ("note", row => row.Event.Note),
        ("alarm", row => row.Event.Alarm?.Number),
        ("severity", row => row.Event.Alarm?.Severity.ToName()),
        ("raised_at", row => row.Event.Alarm?.RaisedAt),
        ("value", row => row.Event.Alarm?.Value),
        ("limit", row => row.Event.Alarm?.Limit),
        ("unit", row => row.Event.Alarm?.Unit),
        ("text", row => row.Event.Alarm?.Text),
        ("cause", row => row.Event.Alarm?.Cause),
        ("cycle_id", row => row.Event.Alarm?.CycleId),
        ("activations", row => (long?)row.Event.Alarm?.Activations),
        ("verdict", row => row.Event.Alarm?.Verdict.ToName()),
    ];

    /// <summary>Writes the journal.</summary>
    /// <param name="events">The events, in their order.</param>
    /// <param name="form">The form.</param>
    /// <param name="write">Takes the next bytes, UTF-8 without a byte order mark; they always end with a whole line.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <returns>How many events were written.</returns>
    public static async Task<long> WriteAsync(IAsyncEnumerable<StoredAlarmEvent> events, JournalForm form, Func<ReadOnlyMemory<byte>, ValueTask> write, CancellationToken cancellation)
    {
        var buffer = new ArrayBufferWriter<byte>(2 * WriteAtBytes);
        using var json = new Utf8JsonWriter(buffer, OneLine);
        var count = 0L;
        if (form == JournalForm.Csv)
            CsvLine(buffer, column => column.Name);
        await foreach (var row in events.WithCancellation(cancellation))
        {
            if (form == JournalForm.Csv)
                CsvLine(buffer, column => column.Get(row));
            else
                JsonLine(json, buffer, row);
            count++;
            if (buffer.WrittenCount < WriteAtBytes)
                continue;
            await write(buffer.WrittenMemory);
            buffer.ResetWrittenCount();
        }

        await write(buffer.WrittenMemory);
        return count;
    }

    /// <summary>Writes a file under another name first, and gives it its own when it is whole: whoever finds it finds all of it.</summary>
    /// <param name="file">The file; one that is there is replaced.</param>
    /// <param name="write">Writes into it.</param>
    /// <exception cref="IOException">It cannot be written.</exception>
    public static async Task<long> WriteFileAsync(string file, Func<Func<ReadOnlyMemory<byte>, ValueTask>, Task<long>> write)
    {
        var unfinished = file + ".unfinished";
        try
        {
            long count;
            await using (var stream = new FileStream(unfinished, new FileStreamOptions { Mode = FileMode.Create, Access = FileAccess.Write, Options = FileOptions.Asynchronous, BufferSize = 0 }))
            {
                count = await write(bytes => stream.WriteAsync(bytes, CancellationToken.None));
                stream.Flush(flushToDisk: true);
            }

            File.Move(unfinished, file, overwrite: true);
            return count;
        }
        catch
        {
            File.Delete(unfinished);
            throw;
        }
    }

    private static void CsvLine(ArrayBufferWriter<byte> buffer, Func<(string Name, Func<StoredAlarmEvent, object?> Get), object?> get)
    {
        for (var i = 0; i < Columns.Length; i++)
        {
            if (i > 0)
                buffer.Write(","u8);
            switch (get(Columns[i]))
            {
                case string text:
                    CsvText.WriteForSpreadsheet(buffer, text);
                    break;
                case double number when double.IsFinite(number):
                    number.TryFormat(buffer.GetSpan(32), out var length, default, CultureInfo.InvariantCulture);
                    buffer.Advance(length);
                    break;
                case long whole:
                    whole.TryFormat(buffer.GetSpan(32), out length, default, CultureInfo.InvariantCulture);
                    buffer.Advance(length);
                    break;
                case DateTimeOffset moment:
                    buffer.Advance(Rfc3339.Format(moment, buffer.GetSpan(Rfc3339.MaximumLength)));
                    break;
            }
        }

        buffer.Write("\n"u8);
    }

    private static void JsonLine(Utf8JsonWriter json, ArrayBufferWriter<byte> buffer, StoredAlarmEvent row)
    {
        json.WriteStartObject();
        foreach (var (name, get) in Columns)
        {
            switch (get(row))
            {
                case double number:
                    AlarmJson.Number(json, name, number);
                    break;
                case long whole:
                    json.WriteNumber(name, whole);
                    break;
                case DateTimeOffset moment:
                    AlarmJson.Moment(json, name, moment);
                    break;
                case var text:
                    AlarmJson.Words(json, name, text as string);
                    break;
            }
        }

        json.WriteEndObject();
        json.Flush();
        json.Reset();
        buffer.Write("\n"u8);
    }
}
