using System.Globalization;
using SawEdge.Core;
using SpreadCheetah;
using SpreadCheetah.Styling;
using SpreadCheetah.Worksheets;

namespace SawEdge.Gateway.Formats.Tables;

/// <summary>
/// A table as an Office Open XML workbook: sheets of the table's name (<c>cycles</c>, and <c>cycles 2</c> and so on where the rows are more
/// than a sheet holds), each with a frozen header and a filter, and a last sheet <c>columns</c> that says what the columns are. The same rows
/// give the same bytes. Memory stays flat.
/// </summary>
/// <remarks>
/// Moments are dates of the 1900 system in UTC, to the millisecond; before 1 March 1900, where that system has a day that never was, RFC 3339 texts.
/// Whole numbers of more than 15 digits are texts, because a spreadsheet holds no more of a number. Texts: <see cref="WorkbookText"/>.
/// </remarks>
internal sealed class WorkbookRows : IRowWriter
{
    /// <summary>Rows that a sheet holds at most, its header among them.</summary>
    public const int MostRows = 1_048_576;

    private const string TimeFormat = @"yyyy\-mm\-dd\ hh:mm:ss.000";
    private const long GreatestInteger = 999_999_999_999_999;
    private const int WidestColumn = 60;

    private static readonly long FirstDay = new DateTimeOffset(1900, 3, 1, 0, 0, 0, TimeSpan.Zero).ToUnixTimeMilliseconds();

    private readonly TableHead _head;
    private readonly bool _isSafe;
    private readonly WorkbookStream _stream;
    private readonly int _mostRows;
    private readonly DataCell[] _cells;
    private Spreadsheet? _book;
    private StyleId? _bold;
    private int _sheets;
    private long _rows;

    /// <summary>Begins a table.</summary>
    /// <param name="head">The table.</param>
    /// <param name="style">Whether texts are made harmless.</param>
    /// <param name="stream">Where to; need not be able to seek; left open.</param>
    /// <param name="mostRows">Rows of a sheet at most, its header among them.</param>
    public WorkbookRows(TableHead head, TableStyle style, Stream stream, int mostRows = MostRows)
    {
        (_head, _isSafe, _stream, _mostRows) = (head, style.IsSafeForSpreadsheets, new WorkbookStream(stream), mostRows);
        _cells = new DataCell[head.Columns.Count];
    }

    /// <inheritdoc/>
    public async Task WriteAsync(RowBatch batch, CancellationToken cancellation)
    {
        cancellation.ThrowIfCancellationRequested();
        _stream.Cancellation = cancellation;
        for (var i = 0; i < batch.Count; i++)
        {
            if (_sheets == 0 || _book!.NextRowNumber > _mostRows)
                await StartAsync(cancellation);
            Fill(batch.Row(i));
            await _book!.AddRowAsync(_cells, cancellation);
        }

        _rows += batch.Count;
    }

    /// <inheritdoc/>
    public async Task FinishAsync(CancellationToken cancellation)
    {
        _stream.Cancellation = cancellation;
        if (_sheets == 0)
            await StartAsync(cancellation);
        await DescribeAsync(_book!, cancellation);
        await _book!.FinishAsync(cancellation);
        await _stream.FlushAsync(cancellation);
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        // The library ends the archive where it is disposed, also that of a table which was broken off.
        _stream.IsShut = true;
        if (_book is not null)
            await _book.DisposeAsync();
    }

    private async Task StartAsync(CancellationToken cancellation)
    {
        if (_book is null)
        {
            // Document properties would hold the present.
            var options = new SpreadCheetahOptions { DefaultDateTimeFormat = NumberFormat.Custom(TimeFormat), DocumentProperties = null, PreserveStringWhitespace = true };
            _book = await Spreadsheet.CreateNewAsync(_stream, options, cancellation);
            _bold = _book.AddStyle(new Style { Font = { Bold = true } });
        }

        var sheet = new WorksheetOptions
        {
            FrozenRows = 1,
            AutoFilter = new AutoFilterOptions(string.Create(CultureInfo.InvariantCulture, $"A1:{SpreadsheetUtility.GetColumnName(_cells.Length)}{_mostRows}")),
        };
        var names = new string[_cells.Length];
        for (var i = 0; i < names.Length; i++)
        {
            var column = _head.Columns[i];
            names[i] = column.Type == ColumnType.Time ? column.Name + " (UTC)" : column.Name;
            sheet.Column(i + 1).Width = Width(column.Type, names[i]);
        }

        _sheets++;
        await _book.StartWorksheetAsync(_sheets == 1 ? _head.Name : string.Create(CultureInfo.InvariantCulture, $"{_head.Name} {_sheets}"), sheet, cancellation);
        await _book.AddHeaderRowAsync(names, _bold, cancellation);
    }

    // The filter's button stands on the name.
    private static int Width(ColumnType type, string name) => Math.Clamp(
        name.Length + 4,
        type switch
        {
            ColumnType.Time => 24,
            ColumnType.Text => 18,
            _ => 10,
        },
        WidestColumn);

    private void Fill(ReadOnlySpan<Cell> row)
    {
        for (var i = 0; i < row.Length; i++)
        {
            ref readonly var cell = ref row[i];
            _cells[i] = !cell.IsKnown ? default : _head.Columns[i].Type switch
            {
                ColumnType.Text => new DataCell(WorkbookText.Of(cell.Text, _isSafe)),
                ColumnType.Time => Time(cell.Milliseconds),
                ColumnType.Number => new DataCell(cell.Number),
                ColumnType.Integer => Integer(cell.Integer),
                _ => new DataCell(cell.Flag),
            };
        }
    }

    private static DataCell Time(long milliseconds)
    {
        var time = DateTimeOffset.FromUnixTimeMilliseconds(milliseconds);
        return milliseconds >= FirstDay ? new DataCell(time.UtcDateTime) : new DataCell(time.ToString("yyyy-MM-dd'T'HH:mm:ss.fff'Z'", CultureInfo.InvariantCulture));
    }

    private static DataCell Integer(long value) =>
        value is >= -GreatestInteger and <= GreatestInteger ? new DataCell(value) : new DataCell(value.ToString(CultureInfo.InvariantCulture));

    private async Task DescribeAsync(Spreadsheet book, CancellationToken cancellation)
    {
        var sheet = new WorksheetOptions { FrozenRows = 1 };
        int[] widths = [30, 10, 12, 90, 60];
        for (var i = 0; i < widths.Length; i++)
            sheet.Column(i + 1).Width = widths[i];
        await book.StartWorksheetAsync("columns", sheet, cancellation);
        await book.AddHeaderRowAsync(["column", "type", "unit", "meaning", "empty"], _bold, cancellation);
        foreach (var column in _head.Columns)
            await AddAsync(column.Name, column.TypeWord, column.Unit, column.Meaning, column.EmptyWhen);

        await AddAsync();
        await AddAsync("this file", "", "", string.Create(CultureInfo.InvariantCulture, $"{_head.Name}: {_head.Meaning} {_rows} rows, written by SawEdge {ProgramVersion.Text}."));
        await AddAsync("an empty cell", "", "", "Not known; never 0.");
        await AddAsync("times", "", "", "UTC, to the millisecond.");
        if (_isSafe)
            await AddAsync("texts", "", "", "A text that begins with = + - @, a tab or a line break has a single quote before it, so that nothing takes it for a formula.");
        await AddAsync("long texts", "", "", "A text of more than 32,767 characters is cut and ends with …");

        ValueTask AddAsync(params string[] texts) => book.AddRowAsync(Array.ConvertAll(texts, text => new DataCell(text.Length > 0 ? text : null)), cancellation);
    }
}
