using System.IO.Compression;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Acquisition.Recordings;

/// <summary>
/// Reads one recording, plain or gzip, row by row: <c>while (await reader.FillAsync(ct)) while (reader.TryRead(ref row)) ...</c>.
/// Nothing is allocated for a row. What is wrong in the file goes to <see cref="RecordingProblems"/> and costs only the value or
/// row it is in: a bad value is marked <see cref="SignalQuality.Invalid"/>, a row whose time, saw or number of fields is wrong is
/// dropped, and of a gzip file that breaks off everything before the break is used.
/// </summary>
public sealed class RecordingReader : IAsyncDisposable
{
    // The first two bytes of a gzip file, RFC 1952 section 2.3.1.
    private const int GzipMark = 0x1F8B;

    private readonly Stream _file;
    private readonly Stream _text;
    private readonly CsvRows _rows;
    private readonly RecordingProblems _problems;
    private IRowParser? _parser;
    private long _valuesFrom;
    private readonly bool _isOwn;
    private readonly char _separator;
    private bool _brokenOff;

    private RecordingReader(string name, Stream file, Stream text, RecordingProblems problems, char separator = ',')
    {
        Name = name;
        Length = file.Length;
        _file = file;
        _text = text;
        _rows = new CsvRows(text, (byte)separator);
        _problems = problems;
        _separator = separator;
        _isOwn = RecordingName.TryParse(name, out _);
    }

    /// <summary>The file as the user named it.</summary>
    public string Name { get; }

    /// <summary>Size of the file, bytes.</summary>
    public long Length { get; }

    /// <summary>How far the file was read, bytes.</summary>
    public long Position => _file.CanRead ? _file.Position : Length;

    /// <summary>Opens a recording and reads its header.</summary>
    /// <param name="path">The file.</param>
    /// <param name="problems">Where to say what is wrong in it.</param>
    /// <param name="defaultSaw">The saw where the file has no column for it; null: the file's name up to its first dot.</param>
    /// <param name="layouts">How recordings of other loggers are read; null: none of them are.</param>
    /// <param name="cancellation">Ends the wait.</param>
    /// <exception cref="RecordingException">The file cannot be opened, or is no recording.</exception>
    public static async Task<RecordingReader> OpenAsync(string path, RecordingProblems problems, string? defaultSaw = null, RecordingLayouts? layouts = null, CancellationToken cancellation = default)
    {
        try
        {
            return await OpenAsync(path, OpenFile(path), problems, defaultSaw, layouts, cancellation);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new RecordingException($"{path}: cannot be read: {e.Message}", e);
        }
    }

    /// <summary>Reads a recording from a seekable stream, which is closed with the reader.</summary>
    internal static async Task<RecordingReader> OpenAsync(string name, Stream file, RecordingProblems problems, string? defaultSaw = null, RecordingLayouts? layouts = null, CancellationToken cancellation = default)
    {
        try
        {
            var start = new byte[2];
            var length = await file.ReadAtLeastAsync(start, start.Length, throwOnEndOfStream: false, cancellation);
            file.Position = 0;
            var mark = length < 2 ? 0 : (start[0] << 8) | start[1];
            if ((layouts ?? RecordingLayouts.None).All is { Count: > 0 } known && !RecordingName.TryParse(name, out _))
                return await OpenMappedAsync(name, file, mark == GzipMark, problems, defaultSaw, known, cancellation);
            var text = mark switch
            {
                GzipMark => new GZipStream(file, CompressionMode.Decompress),
                0x504B => throw new RecordingException($"{name}: a zip archive; unpack it, or compress the file with gzip."),
                0xFFFE or 0xFEFF => throw new RecordingException($"{name}: the text is UTF-16; save it as UTF-8."),
                _ => file,
            };
            var reader = new RecordingReader(name, file, text, problems);
            await reader.ReadHeaderAsync(defaultSaw, cancellation);
            return reader;
        }
        catch
        {
            await file.DisposeAsync();
            throw;
        }
    }

    /// <summary>Gets more rows into memory; to be called whenever <see cref="TryRead"/> has no more.</summary>
    /// <returns>False at the end of the recording.</returns>
    public async ValueTask<bool> FillAsync(CancellationToken cancellation = default)
    {
        try
        {
            return await _rows.FillAsync(cancellation);
        }
        catch (InvalidDataException e)
        {
            return BreakOff($"the compressed file is damaged or breaks off; everything before it is used, what follows is lost ({e.Message})");
        }
        catch (IOException e)
        {
            return BreakOff($"the file cannot be read any further; everything before it is used ({e.Message})");
        }
    }

    /// <summary>Takes the next frame that is in memory.</summary>
    /// <param name="row">Where to put it; holds nothing of use when there is none.</param>
    /// <returns>False when more has to be filled in, or at the end.</returns>
    public bool TryRead(ref RecordedFrame row)
    {
        while (true)
        {
            switch (_rows.TryNext(out var text, out var quoted))
            {
                case CsvRowState.NeedsMore:
                    return false;
                case CsvRowState.Row when _brokenOff && !_rows.Terminated:
                    // The last line before a break may be half of one.
                    return false;
                case CsvRowState.Row when _isOwn && !_rows.Terminated:
                    Report("half line", "the file breaks off in its last line, as after a loss of power; the line is left out.");
                    return false;
                case CsvRowState.Row when _rows.Line < _valuesFrom:
                    break;
                case CsvRowState.Row:
                    if (_parser!.TryParse(text, quoted, _rows, ref row))
                        return true;
                    break;
                case CsvRowState.BadQuotes:
                    Report("quotes", "a quoted text is not closed properly; the line is left out. A quote inside a quoted text is written twice.");
                    break;
                case CsvRowState.TooLong:
                    Report("line too long", $"the line is longer than {CsvRows.MaximumRow / 1024} KB and is left out.");
                    break;
            }
        }
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        await _text.DisposeAsync();
        await _file.DisposeAsync();
    }

    /// <summary>Opens the text of a recording, decompressed where it is.</summary>
    internal static Stream OpenText(string path)
    {
        var file = OpenFile(path);
        var compressed = file.ReadByte() == GzipMark >> 8 && file.ReadByte() == (GzipMark & 0xFF);
        file.Position = 0;
        return compressed ? new GZipStream(file, CompressionMode.Decompress) : file;
    }

    // The buffer is of use for gzip, which asks for 8 KB at a time. A recording that is still written may be read.
    private static FileStream OpenFile(string path) =>
        new(path, new FileStreamOptions { Options = FileOptions.Asynchronous | FileOptions.SequentialScan, BufferSize = 128 * 1024, Share = FileShare.ReadWrite | FileShare.Delete });

    // Each way of taking the file apart is tried on its header; what fits none may still be a recording of the gateway's own.
    private static async Task<RecordingReader> OpenMappedAsync(string name, Stream file, bool isPacked, RecordingProblems problems, string? defaultSaw, IReadOnlyList<RecordingLayout> layouts, CancellationToken cancellation)
    {
        string? misfit = null;
        foreach (var group in layouts.GroupBy(layout => (layout.Source.Separator, layout.Source.HeaderLine, layout.Source.SkipRows)))
        {
            file.Position = 0;
            Stream text = isPacked ? new GZipStream(file, CompressionMode.Decompress, leaveOpen: true) : file;
            var reader = new RecordingReader(name, file, text, problems, group.Key.Separator);
            if (await reader.ReadNamesAsync(group.Key.HeaderLine, cancellation) is not { } names)
                continue;
            reader._parser = MappedRowParser.TryCreate(name, names, [.. group], defaultSaw, problems);
            reader._valuesFrom = reader._rows.NextLine + group.Key.SkipRows;
            if (reader._parser is not null)
                return reader;
            if (RecordingLayouts.Meant(layouts, name, defaultSaw) is { } meant && group.Contains(meant))
                misfit = MappedColumns.Misfit(name, meant, names);
        }

        file.Position = 0;
        try
        {
            return await OpenAsync(name, file, problems, defaultSaw, null, cancellation);
        }
        catch (RecordingException) when (misfit is not null)
        {
            throw new RecordingException(misfit);
        }
    }

    // The names in a line; null where the file ends before it.
    private async Task<string[]?> ReadNamesAsync(int headerLine, CancellationToken cancellation)
    {
        while (await FillAsync(cancellation))
        {
            while (_rows.TryNext(out var text, out var quoted) is var state and not CsvRowState.NeedsMore)
            {
                if (state == CsvRowState.Row && _rows.Line >= headerLine && !text.Trim(" \t"u8).IsEmpty)
                    return Array.ConvertAll(CsvFields.Texts(text, quoted, (byte)_separator), ControllerText.Clean);
            }
        }

        return null;
    }

    private async Task ReadHeaderAsync(string? defaultSaw, CancellationToken cancellation)
    {
        while (await FillAsync(cancellation))
        {
            if (TryReadHeader(out var names))
            {
                var columns = RecordingHeader.Parse(Name, names, _problems);
                _parser = new RowParser(Name, columns, _problems, SawWithoutColumn(columns, defaultSaw));
                return;
            }
        }

        throw new RecordingException($"{Name}: the file is empty; its first line should be time,saw and signal names, separated by commas.");
    }

    private bool TryReadHeader(out List<string> names)
    {
        names = [];
        while (true)
        {
            switch (_rows.TryNext(out var text, out var quoted))
            {
                case CsvRowState.NeedsMore:
                    return false;
                case CsvRowState.Row when text.Trim(" \t"u8).IsEmpty:
                    continue;
                case CsvRowState.Row:
                    names = [.. CsvFields.Texts(text, quoted)];
                    return true;
                default:
                    throw new RecordingException($"{Name}: the first line is no header of a recording: it is too long or its quotes are wrong; it should be time,saw and signal names, separated by commas.");
            }
        }
    }

    private string SawWithoutColumn(RecordingColumn[] columns, string? defaultSaw)
    {
        if (Array.Exists(columns, column => column.Role == ColumnRole.Saw))
            return "";
        var saw = defaultSaw;
        if (string.IsNullOrEmpty(saw))
        {
            var file = Path.GetFileName(Name);
            var dot = file.IndexOf('.', StringComparison.Ordinal);
            saw = ControllerText.Clean(dot > 0 ? file[..dot] : file);
            _problems.Add(Name, RecordingHeader.Saw, "no saw column", 1, $"there is no column '{RecordingHeader.Saw}'; every row is taken for the saw '{saw}', after the file's name.");
        }

        return saw;
    }

    private bool BreakOff(string message)
    {
        _problems.Add(Name, "", "breaks off", _rows.NextLine, message);
        _brokenOff = true;
        _rows.End();
        return true;
    }

    private void Report(string kind, string message)
    {
        if (!_problems.CountAgain(Name, "", kind))
            _problems.Add(Name, "", kind, _rows.Line, message);
    }
}
