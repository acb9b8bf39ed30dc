using System.Runtime.InteropServices;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Acquisition.Recordings;

/// <summary>Turns the rows of one recording into frames.</summary>
internal sealed class RowParser : IRowParser
{
    private const double Largest = 9_007_199_254_740_992; // 2^53: beyond it a double no longer tells whole numbers apart.

    private readonly string _file;
    private RecordingColumn[] _columns;
    private readonly RecordingProblems _problems;
    private readonly string _sawWithoutColumn;
    private readonly TextCache _texts = new(1024);
    private readonly byte[] _scratch = new byte[CsvRows.MaximumRow + 1];
    private byte[]? _countScratch;
    private readonly Dictionary<string, long> _lastTicks = new(StringComparer.Ordinal);

    public RowParser(string file, RecordingColumn[] columns, RecordingProblems problems, string sawWithoutColumn)
    {
        _file = file;
        _columns = columns;
        _problems = problems;
        _sawWithoutColumn = sawWithoutColumn;
    }

    private enum Outcome : byte
    {
        Good,
        BadTime,
        BadValue,
    }

    /// <summary>Reads one row.</summary>
    /// <returns>False where the row is empty or has to be dropped, which was said.</returns>
    public bool TryParse(ReadOnlySpan<byte> text, bool quoted, CsvRows rows, ref RecordedFrame row)
    {
        if (text.IsEmpty)
            return false;

        row.Saw = _sawWithoutColumn;
        row.Frame = default;
        var fields = new CsvFields(text, quoted ? _scratch : []);
        var count = 0;
        var aligned = false;
        while (fields.TryNext(out var field))
        {
            if (count < _columns.Length)
            {
                ref readonly var column = ref _columns[count];
                var outcome = Read(in column, field, ref row);
                if (outcome != Outcome.Good)
                {
                    if (IsHeader(text, quoted, rows.Line))
                        return false;
                    // Values in the wrong columns would each be reported for what they are not.
                    if (!aligned && !IsAligned(text, quoted, rows))
                        return false;
                    aligned = true;
                    Report(in column, field, rows.Line);
                    if (outcome == Outcome.BadTime)
                        return false;
                }
            }

            count++;
        }

        if (count != _columns.Length && !aligned && !IsAligned(text, quoted, rows))
            return false;
        NoteOrder(ref row, rows.Line);
        return true;
    }

    private Outcome Read(in RecordingColumn column, ReadOnlySpan<byte> field, ref RecordedFrame row)
    {
        switch (column.Role)
        {
            case ColumnRole.Time:
                if (!Rfc3339.TryParse(Trim(field), out var time))
                    return Outcome.BadTime;
                row.Frame.Time = time;
                return Outcome.Good;
            case ColumnRole.Saw:
                row.Saw = _texts.Get(field);
                return row.Saw.Length > 0 ? Outcome.Good : Outcome.BadTime;
            case ColumnRole.Signal when column.Kind == SignalKind.Text:
                row.Frame.Set(column.Signal, _texts.Get(field));
                return Outcome.Good;
            case ColumnRole.Signal:
                field = Trim(field);
                if (field.IsEmpty)
                    return Outcome.Good;
                var good = column.Kind == SignalKind.Flag
                    ? TryFlag(field, out var value)
                    : NumberText.TryParse(field, out value) && (column.Kind == SignalKind.Number ? double.IsFinite(value) : Math.Abs(value) <= Largest && Math.Floor(value) == value);
                row.Frame.Set(column.Signal, good ? value : double.NaN);
                return good ? Outcome.Good : Outcome.BadValue;
            default:
                return Outcome.Good;
        }
    }

    private static ReadOnlySpan<byte> Trim(ReadOnlySpan<byte> field) =>
        field.IsEmpty || (field[0] > ' ' && field[^1] > ' ') ? field : field.Trim(" \t"u8);

    private static bool TryFlag(ReadOnlySpan<byte> field, out double value)
    {
        value = 0;
        if (field.SequenceEqual("true"u8) || field.SequenceEqual("1"u8))
            value = 1;
        else if (!field.SequenceEqual("false"u8) && !field.SequenceEqual("0"u8))
            return TryOtherFlag(field, out value);
        return true;
    }

    // What spreadsheets and data frames make of true and false.
    private static bool TryOtherFlag(ReadOnlySpan<byte> field, out double value)
    {
        value = System.Text.Ascii.EqualsIgnoreCase(field, "true"u8) || field.SequenceEqual("1.0"u8) ? 1 : 0;
        return value == 1 || System.Text.Ascii.EqualsIgnoreCase(field, "false"u8) || field.SequenceEqual("0.0"u8);
    }

    // Files that were put together one behind the other bring their headers along, perhaps with other columns: from there on they count.
    private bool IsHeader(ReadOnlySpan<byte> text, bool quoted, long line)
    {
        if (text.IndexOf("time"u8) < 0)
            return false;
        var names = CsvFields.Texts(text, quoted);
        if (!names.Any(name => ControllerText.Clean(name) == RecordingHeader.Time))
            return false;
        const string Kind = "header again";
        var message = "a header stands here once more; what follows is read by the columns that it names.";
        try
        {
            var columns = RecordingHeader.Parse(_file, names, new RecordingProblems());

            // Held against the first header, because one in between may have been none of use.
            if (Array.Exists(columns, column => column.Role == ColumnRole.Saw) != (_sawWithoutColumn.Length == 0))
                throw new RecordingException($"One names the saws in the column '{RecordingHeader.Saw}' and the other does not.");
            _columns = columns;
        }
        catch (RecordingException e)
        {
            // No row fits no columns: all are left out until the next header.
            _columns = [];
            message = $"another header stands here, and what follows is left out. {e.Message}";
        }

        if (!_problems.CountAgain(_file, "", Kind))
            _problems.Add(_file, "", Kind, line, message);
        return true;
    }

    // Whether the row has a field for each column; more are as good where they are empty, as spreadsheets write them.
    private bool IsAligned(ReadOnlySpan<byte> text, bool quoted, CsvRows rows)
    {
        // Not the scratch space of the value that is looked at.
        var fields = new CsvFields(text, quoted ? _countScratch ??= new byte[_scratch.Length] : []);
        var count = 0;
        var filled = 0;
        while (fields.TryNext(out var field))
        {
            count++;
            if (!Trim(field).IsEmpty)
                filled = count;
        }

        if (filled == 0 || IsHeader(text, quoted, rows.Line))
            return false;
        if (count >= _columns.Length && filled <= _columns.Length)
            return true;

        const string Kind = "number of fields";
        if (rows.Lines > 1)
        {
            // A stray quote has joined lines: only the first of them is lost.
            rows.KeepFirstLineOnly();
        }

        if (!_problems.CountAgain(_file, "", Kind))
            _problems.Add(_file, "", Kind, rows.Line, $"the row has {Math.Max(filled, Math.Min(count, _columns.Length))} fields where the header has {_columns.Length}; the row is left out. Numbers use '.', and a text that holds a comma stands in double quotes.");
        return false;
    }

    private void NoteOrder(ref RecordedFrame row, long line)
    {
        ref var last = ref CollectionsMarshal.GetValueRefOrAddDefault(_lastTicks, row.Saw, out _);
        var ticks = row.Frame.Time.UtcTicks;
        if (ticks <= last && !_problems.CountAgain(_file, RecordingHeader.Time, "does not rise"))
            _problems.Add(_file, RecordingHeader.Time, "does not rise", line, $"the time of '{row.Saw}' is not later than the row before; times should rise for each saw.");
        last = ticks;
    }

    private void Report(in RecordingColumn column, ReadOnlySpan<byte> field, long line)
    {
        const string Kind = "value";
        if (_problems.CountAgain(_file, column.Name, Kind))
            return;
        var quoted = Excerpt.Quote(field);
        _problems.Add(_file, column.Name, Kind, line, column switch
        {
            { Role: ColumnRole.Time } => $"{column.Name}: {quoted} is no moment; the row is left out. Right is a date, a time and a zone, for example 2026-03-02T06:00:00.250Z or 2026-03-02T07:00:00.250+01:00.",
            { Role: ColumnRole.Saw } => $"{column.Name}: the row names no saw and is left out.",
            { Kind: SignalKind.Flag } => $"{column.Name}: {quoted} is neither true nor false; the value is marked invalid. Right is true, false, 1 or 0, or nothing where it was not read.",
            { Kind: SignalKind.Integer } => $"{column.Name}: {quoted} is no whole number; the value is marked invalid. Leave the field empty where it was not read.",
            _ => $"{column.Name}: {quoted} is no number; the value is marked invalid. Right is for example 12.5, or nothing where it was not read.",
        });
    }
}
