namespace SawEdge.Gateway.Acquisition.Recordings;

/// <summary>What <see cref="CsvRows.TryNext"/> found.</summary>
internal enum CsvRowState
{
    /// <summary>The row is not wholly in memory: fill, or at the end of the data nothing is left.</summary>
    NeedsMore,

    /// <summary>A row.</summary>
    Row,

    /// <summary>A line whose quotes are wrong; it is passed over and reading goes on with the next line.</summary>
    BadQuotes,

    /// <summary>A line longer than <see cref="CsvRows.MaximumRow"/>; it is passed over.</summary>
    TooLong,
}

/// <summary>
/// Cuts a stream into the rows of RFC 4180: lines end in LF or CRLF, a quoted field may hold commas, doubled quotes and line
/// breaks. Rows are given as a slice of the buffer, so nothing is allocated for a row. A quote that is never closed costs its own
/// line only: the rows behind it are found again.
/// </summary>
internal sealed class CsvRows
{
    /// <summary>The longest row, bytes.</summary>
    public const int MaximumRow = 64 * 1024;

    private readonly Stream _stream;
    private readonly byte _separator;
    private readonly byte[] _buffer = new byte[4 * MaximumRow];
    private int _start;
    private int _end;
    private int _rowStart;
    private bool _ended;
    private bool _started;
    private bool _skipping;

    public CsvRows(Stream stream, byte separator = (byte)',')
    {
        _stream = stream;
        _separator = separator;
    }

    /// <summary>Line in the file at which the latest row begins, from 1.</summary>
    public long Line { get; private set; }

    /// <summary>Line in the file at which the next row begins.</summary>
    public long NextLine { get; private set; } = 1;

    /// <summary>Whether the latest row ended in a line break, as opposed to the end of the data.</summary>
    public bool Terminated { get; private set; }

    /// <summary>Lines of the file that the latest row spans; above 1 where a quoted field holds line breaks.</summary>
    public int Lines { get; private set; }

    /// <summary>Reads more of the stream.</summary>
    /// <returns>False when the end was reached before and nothing is left to look at.</returns>
    public async ValueTask<bool> FillAsync(CancellationToken cancellation)
    {
        if (_ended)
            return false;
        if (_start > 0)
        {
            Buffer.BlockCopy(_buffer, _start, _buffer, 0, _end - _start);
            _end -= _start;
            _start = 0;
        }

        var read = await _stream.ReadAsync(_buffer.AsMemory(_end), cancellation);
        _end += read;
        if (read == 0)
            _ended = true;
        if (!_started && (_end >= 3 || _ended))
        {
            _started = true;
            if (_buffer.AsSpan(0, _end).StartsWith("\uFEFF"u8))
                _start = 3;
        }

        return true;
    }

    /// <summary>Says that the stream can give no more; what is in memory is still looked at.</summary>
    public void End() => _ended = true;

    /// <summary>Takes the next row.</summary>
    /// <param name="row">The row without its line break; valid until the next call of <see cref="FillAsync"/>.</param>
    /// <param name="quoted">Whether it holds a quote anywhere.</param>
    public CsvRowState TryNext(out ReadOnlySpan<byte> row, out bool quoted)
    {
        row = default;
        quoted = false;
        while (_started || _ended)
        {
            var rest = _buffer.AsSpan(_start, _end - _start);
            var length = rest.IndexOf((byte)'\n');
            if (_skipping)
            {
                // The tail of a line that was too long.
                _start = length < 0 ? _end : _start + length + 1;
                if (length < 0)
                    return CsvRowState.NeedsMore;
                _skipping = false;
                NextLine++;
                continue;
            }

            if (length < 0 ? rest.Length > MaximumRow : length > MaximumRow)
            {
                Begin(1);
                NextLine--;
                _skipping = true;
                return CsvRowState.TooLong;
            }

            if (length < 0 && (!_ended || rest.IsEmpty))
                return CsvRowState.NeedsMore;

            Terminated = length >= 0;
            if (length < 0)
                length = rest.Length;
            quoted = rest[..length].Contains((byte)'"');
            return quoted ? TakeQuoted(rest, length, out row) : Take(rest, length, 1, out row);
        }

        return CsvRowState.NeedsMore;
    }

    /// <summary>Goes back to the line behind the first line of the latest row, which turned out to be several rows.</summary>
    public void KeepFirstLineOnly()
    {
        var first = _buffer.AsSpan(_rowStart, _start - _rowStart).IndexOf((byte)'\n');
        _start = _rowStart + first + 1;
        NextLine = Line + 1;
        Lines = 1;
    }

    private CsvRowState TakeQuoted(ReadOnlySpan<byte> rest, int firstLine, out ReadOnlySpan<byte> row)
    {
        var end = FindEnd(rest, out var breaks, out var open);
        if (end >= 0 && end <= MaximumRow && (end < rest.Length || _ended))
        {
            Terminated = end < rest.Length;
            return Take(rest, end, breaks + 1, out row);
        }

        row = default;
        if ((open || end >= 0) && !_ended && rest.Length <= MaximumRow)
            return CsvRowState.NeedsMore;
        Take(rest, firstLine, 1, out _);
        return CsvRowState.BadQuotes;
    }

    private CsvRowState Take(ReadOnlySpan<byte> rest, int length, int lines, out ReadOnlySpan<byte> row)
    {
        row = length > 0 && rest[length - 1] == '\r' ? rest[..(length - 1)] : rest[..length];
        Begin(lines);
        _rowStart = _start;
        _start = Math.Min(_start + length + 1, _end);
        return CsvRowState.Row;
    }

    private void Begin(int lines)
    {
        Line = NextLine;
        NextLine += lines;
        Lines = lines;
    }

    // The end of a row that has quotes, or -1: then open says whether more data could close the quote.
    private int FindEnd(ReadOnlySpan<byte> text, out int breaks, out bool open)
    {
        breaks = 0;
        open = false;
        var i = 0;
        while (true)
        {
            // At the start of a field.
            if (i < text.Length && text[i] == '"')
            {
                i++;
                while (true)
                {
                    var next = text[i..].IndexOfAny((byte)'"', (byte)'\n');
                    if (next < 0 || i + next > MaximumRow)
                    {
                        open = true;
                        return -1;
                    }

                    i += next + 1;
                    if (text[i - 1] == '\n')
                        breaks++;
                    else if (i < text.Length && text[i] == '"')
                        i++;
                    else
                        break;
                }

                if (i < text.Length && text[i] == '\r' && (i + 1 == text.Length || text[i + 1] == '\n'))
                    i++;
                if (i < text.Length && text[i] != _separator && text[i] != '\n')
                    return -1;
            }
            else
            {
                // A quote inside an unquoted field is a character like any other.
                var next = text[i..].IndexOfAny(_separator, (byte)'\n');
                i = next < 0 ? text.Length : i + next;
            }

            if (i >= text.Length || text[i] == '\n')
                return i;
            i++;
        }
    }
}
