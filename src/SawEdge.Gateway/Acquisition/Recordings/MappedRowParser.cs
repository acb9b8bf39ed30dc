using System.Text;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Acquisition.Recordings;

/// <summary>Turns the rows of a file of another logger into frames: columns under other names, in other units, times in another form. Nothing is allocated for a row.</summary>
internal sealed class MappedRowParser : IRowParser
{
    private const long FallsBackTicks = TimeSpan.TicksPerMinute;

    private readonly string _file;
    private readonly RecordingProblems _problems;
    private readonly byte _separator;
    private readonly byte[] _scratch = new byte[CsvRows.MaximumRow + 1];
    private readonly byte[] _values = new byte[(2 * CsvRows.MaximumRow) + 2];
    private readonly TextCache _names = new(64);
    private readonly Dictionary<string, MappedColumns?> _saws = new(StringComparer.Ordinal);
    private MappedColumns[] _layouts;
    private bool[] _isUsed = [];
    private (int Start, int Length)[] _fields = [];
    private readonly byte[] _timeName;
    private int _used;
    private bool _isLost;

    private MappedRowParser(string file, MappedColumns[] layouts, int columns, RecordingProblems problems)
    {
        _file = file;
        _problems = problems;
        _layouts = layouts;
        _separator = (byte)layouts[0].Layout.Source.Separator;
        _timeName = Encoding.UTF8.GetBytes(layouts[0].Layout.Source.TimeColumn);
        Lay(columns);
    }

    /// <summary>Prepares the reading of a file.</summary>
    /// <param name="file">The file.</param>
    /// <param name="names">Its columns.</param>
    /// <param name="layouts">The layouts of the separator with which it was taken apart.</param>
    /// <param name="defaultSaw">The saw that was asked for, or null.</param>
    /// <param name="problems">Where to say what is wrong in its rows.</param>
    /// <returns>Null where it fits none of them.</returns>
    /// <exception cref="RecordingException">It fits one of them, but not wholly, or nobody can say which.</exception>
    public static MappedRowParser? TryCreate(string file, string[] names, IReadOnlyList<RecordingLayout> layouts, string? defaultSaw, RecordingProblems problems)
    {
        var fitting = layouts.Where(layout => MappedColumns.Fits(layout, names)).ToList();
        if (fitting.Count == 0)
            return null;
        var several = fitting.Where(layout => layout.Source.SawColumn is { } column && names.Contains(column, StringComparer.Ordinal)).ToList();
        if (several.Count > 0)
            return new MappedRowParser(file, [.. several.Select(layout => MappedColumns.Find(file, layout, names))], names.Length, problems);
        var meant = RecordingLayouts.Meant(fitting, file, defaultSaw) ?? throw new RecordingException(
            $"{file}: its columns fit the saws {string.Join(", ", fitting.Select(layout => $"'{layout.Saw}'"))}; which one is it about? Name one with --saw, or the file after it.");
        return new MappedRowParser(file, [MappedColumns.Find(file, meant, names)], names.Length, problems);
    }

    /// <inheritdoc/>
    public bool TryParse(ReadOnlySpan<byte> text, bool quoted, CsvRows rows, ref RecordedFrame row)
    {
        if (!TakeApart(text, quoted, rows) || IsHeader(text, quoted, rows.Line))
            return false;
        if (SawOf(rows.Line) is not { } saw)
            return false;
        if (!TryTime(saw, rows.Line, out var time))
            return false;
        row.Saw = saw.Layout.Saw;
        row.Frame = new SignalFrame(time);
        foreach (var (signal, name, column) in saw.Signals)
        {
            var value = Value(column);
            var isNumber = IsNumber(saw, signal, value);
            if (isNumber && signal.SetBare(value, ref row.Frame))
                continue;
            signal.SetInvalid(ref row.Frame);
            if (isNumber && saw.Layout.Source.Decimal == ',')
                value.Replace((byte)'.', (byte)',');
            ReportValue(saw, signal, name, value, rows.Line);
        }

        if (time.UtcTicks <= saw.LastTicks && !_problems.CountAgain(_file, saw.Layout.Source.TimeColumn, "does not rise"))
            _problems.Add(_file, saw.Layout.Source.TimeColumn, "does not rise", rows.Line, $"the time of '{row.Saw}' is not later than the row before; times should rise for each saw.");
        saw.LastTicks = time.UtcTicks;
        return true;
    }

    // Copies what is looked at: a field in quotes is only there until the next one is taken.
    private bool TakeApart(ReadOnlySpan<byte> text, bool quoted, CsvRows rows)
    {
        var fields = new CsvFields(text, quoted ? _scratch : [], _separator);
        var (count, filled) = (0, 0);
        _used = 0;
        while (fields.TryNext(out var field))
        {
            field = field.Trim(" \t\r"u8);
            if (count < _isUsed.Length && _isUsed[count])
            {
                field.CopyTo(_values.AsSpan(_used));
                _fields[count] = (_used, field.Length);
                _used += field.Length;
            }

            count++;
            if (!field.IsEmpty)
                filled = count;
        }

        if (filled == 0)
            return false;
        if (_isLost)
        {
            IsHeader(text, quoted, rows.Line);
            return false;
        }

        if (count >= _isUsed.Length && filled <= _isUsed.Length)
            return true;
        const string Kind = "number of fields";
        if (IsHeader(text, quoted, rows.Line))
            return false;
        if (rows.Lines > 1)
            rows.KeepFirstLineOnly();
        if (!_problems.CountAgain(_file, "", Kind))
            _problems.Add(_file, "", Kind, rows.Line, $"the row has {Math.Max(filled, Math.Min(count, _isUsed.Length))} fields where the header has {_isUsed.Length}; the row is left out.{(_separator == ',' ? " Where decimals are written with ',', the separator must be another one, or such numbers stand in double quotes." : "")}");
        return false;
    }

    // A logger that was started anew writes its header once more, perhaps with other columns: from there on they count.
    private bool IsHeader(ReadOnlySpan<byte> text, bool quoted, long line)
    {
        if (text.IndexOf(_timeName) < 0)
            return false;
        var names = Array.ConvertAll(CsvFields.Texts(text, quoted, _separator), ControllerText.Clean);
        if (!names.Contains(_layouts[0].Layout.Source.TimeColumn, StringComparer.Ordinal))
            return false;
        const string Kind = "header again";
        var message = "the header stands here once more, as where a logger was started anew; what follows is read by the columns that it names.";
        try
        {
            _layouts = Array.ConvertAll(_layouts, layout => MappedColumns.Find(_file, layout.Layout, names, layout.LastTicks));
            Lay(names.Length);
        }
        catch (RecordingException e)
        {
            _isLost = true;
            message = $"another header stands here, and what follows is left out. {e.Message}";
        }

        if (!_problems.CountAgain(_file, "", Kind))
            _problems.Add(_file, "", Kind, line, message);
        return true;
    }

    private Span<byte> Value(int column) => _values.AsSpan(_fields[column].Start, _fields[column].Length);

    private MappedColumns? SawOf(long line)
    {
        var first = _layouts[0];
        if (first.Saw < 0)
            return first;
        var name = _names.Get(Value(first.Saw));
        if (!_saws.TryGetValue(name, out var saw))
        {
            saw = Named(name);

            // Text from a file must not fill the memory.
            if (_saws.Count < 1024)
                _saws.Add(name, saw);
        }

        if (saw is null && !_problems.CountAgain(_file, first.Layout.Source.SawColumn!, "other saw"))
            _problems.Add(_file, first.Layout.Source.SawColumn!, "other saw", line, $"{first.Layout.Source.SawColumn}: no saw of the configuration is '{name}' here; its rows are left out. Known are: {string.Join(", ", _layouts.Select(layout => layout.Layout.Source.SawValue ?? layout.Layout.Saw))}.");
        return saw;
    }

    private MappedColumns? Named(string name) => Array.Find(_layouts, layout => (layout.Layout.Source.SawValue ?? layout.Layout.Saw) == name);

    private bool TryTime(MappedColumns saw, long line, out DateTimeOffset time)
    {
        var text = Value(saw.Time);
        if (saw.Date >= 0)
        {
            var whole = _values.AsSpan(_used);
            var date = Value(saw.Date);
            date.CopyTo(whole);
            whole[date.Length] = (byte)' ';
            text.CopyTo(whole[(date.Length + 1)..]);
            text = whole[..(date.Length + 1 + text.Length)];
        }

        if (saw.Layout.Source is { TimeFormat: null, Decimal: ',' })
            text.Replace((byte)',', (byte)'.');
        if (PayloadTime.TryReadText(saw.Times, text, out time, out var later))
        {
            // In the hour that comes twice times are those of the first until they fall back; rows that change places are no clock that is set back.
            if (later is { } second && saw.LastTicks != 0 && time.UtcTicks < saw.LastTicks - FallsBackTicks)
                time = second;
            return true;
        }

        const string Kind = "value";
        var column = saw.Layout.Source.TimeColumn;
        if (!_problems.CountAgain(_file, column, Kind))
        {
            var why = saw.Layout.Source.TimeFormat is { } format
                ? $"is no time that is written as '{format}'"
                : "is no moment; right is for example 2026-03-02T06:00:00.250Z, or a number counted from 1970. Where it is written another way, say how in \"timeFormat\"";
            _problems.Add(_file, column, Kind, line, $"{column}: {Excerpt.Quote(text)} {why}; the row is left out.");
        }

        return false;
    }

    // Numbers in the form of the programs; false where a '.' between thousands could be taken for one before decimals.
    private static bool IsNumber(MappedColumns saw, MappedSignal signal, Span<byte> value)
    {
        if (saw.Layout.Source.Decimal != ',' || signal.Kind is not (SignalKind.Number or SignalKind.Integer))
            return true;
        if (value.Contains((byte)'.'))
            return false;
        value.Replace((byte)',', (byte)'.');
        return true;
    }

    private void ReportValue(MappedColumns saw, MappedSignal signal, string column, ReadOnlySpan<byte> value, long line)
    {
        const string Kind = "value";
        if (_problems.CountAgain(_file, column, Kind))
            return;
        var hint = signal.Kind is not (SignalKind.Number or SignalKind.Integer) ? ""
            : saw.Layout.Source.Decimal == '.' && value.Contains((byte)',') ? " If ',' stands before the decimals, write \"decimal\": \",\"."
            : saw.Layout.Source.Decimal == ',' && value.Contains((byte)'.') ? " '.' is taken for neither: nothing may stand between thousands, and before decimals ',' is expected."
            : "";
        _problems.Add(_file, column, Kind, line, $"{column}: {Excerpt.Quote(value)} is not {signal.Expected} ({signal.Name} of saw '{saw.Layout.Saw}'); the value is marked invalid.{hint}");
    }

    private void Lay(int columns)
    {
        _isUsed = new bool[columns];
        _fields = new (int, int)[columns];
        foreach (var column in _layouts.SelectMany(layout => layout.Used))
            _isUsed[column] = true;
        _saws.Clear();
        _isLost = false;
    }
}
