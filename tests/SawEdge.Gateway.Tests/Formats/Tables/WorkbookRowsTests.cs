using System.Globalization;
using System.IO.Compression;
using System.Text.Json;
using SawEdge.Core;
using SawEdge.Gateway.Formats;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Formats.Tables;

/// <summary>Workbooks read by openpyxl and LibreOffice, neither of which has anything of the library that writes them.</summary>
public sealed class WorkbookRowsTests : IDisposable
{
    private readonly TempFolder _folder = new();

    private string FilePath => _folder.File("cuts.xlsx");

    public void Dispose() => _folder.Dispose();

    [PeerFact(WorkbookPeers.Python, WorkbookPeers.Openpyxl)]
    public async Task WriteAsync_RowsOfAllTypes_AreReadByOpenpyxlToTheLastDigit()
    {
        var rows = MadeTable.Rows(1_000);

        await WriteAsync(rows);

        var sheets = await WorkbookPeers.ByOpenpyxlAsync(FilePath);
        Assert.Equal(["cuts", "columns"], sheets.Select(sheet => sheet.Name));
        Compare(rows, sheets[0], isSafe: true);
    }

    [PeerFact(WorkbookPeers.LibreOffice)]
    public async Task WriteAsync_RowsOfAllTypes_AreShownByLibreOffice()
    {
        var rows = MadeTable.Rows(200);

        await WriteAsync(rows);

        var shown = (await WorkbookPeers.ByLibreOfficeAsync(_folder, FilePath))["cuts"];
        Assert.Equal(["cut_id", "saw", "started_at (UTC)", "ended_at (UTC)", "job", "cut_area_cm2", "cut_time_s", "part_count", "is_trim", "notes"], shown[0]);
        for (var i = 0; i < rows.Count; i++)
        {
            var (row, cells) = (rows[i], shown[i + 1]);
            Assert.Equal([row[0].Text, row[1].Text, Shown(row[2]), Shown(row[3])], cells[..4]);

            // LibreOffice has one kind of line end in a cell, and no NUL.
            Assert.Equal(Visible(MadeTable.AsUnicode(Harmless(row[4].Text))), Visible(cells[4]));
            Assert.Equal(row[7].IsKnown ? row[7].Integer.ToString(CultureInfo.InvariantCulture) : "", cells[7]);
            Assert.Equal(!row[8].IsKnown ? "" : row[8].Flag ? "TRUE" : "FALSE", cells[8]);
            Assert.Equal("", cells[9]);
        }

        static string Shown(Cell cell) => cell.IsKnown ? DateTimeOffset.FromUnixTimeMilliseconds(cell.Milliseconds).ToString("yyyy-MM-dd HH:mm:ss.fff", CultureInfo.InvariantCulture) : "";
        static string Visible(string text) => text.Replace("\r\n", "\n", StringComparison.Ordinal).Replace('\r', '\n').Replace("\0", "", StringComparison.Ordinal);
    }

    [PeerFact(WorkbookPeers.LibreOffice)]
    public async Task WriteAsync_TextsLikeFormulas_RunNowhere()
    {
        await WriteAsync(MadeTable.Rows(100), isSafe: false);

        // LibreOffice makes a formula of each flag, by itself.
        var formulas = await WorkbookPeers.FormulasByLibreOfficeAsync(_folder, FilePath);
        Assert.All(formulas, formula => Assert.Contains(formula, new[] { "of:=TRUE()", "of:=FALSE()" }));
        using var book = ZipFile.OpenRead(FilePath);
        foreach (var sheet in book.Entries)
        {
            using var reader = new StreamReader(sheet.Open());
            Assert.DoesNotContain("<f>", await reader.ReadToEndAsync(), StringComparison.Ordinal);
        }
    }

    [PeerFact(WorkbookPeers.Python, WorkbookPeers.Openpyxl)]
    public async Task WriteAsync_AsIs_LeavesTextsAlone()
    {
        var rows = MadeTable.Rows(100);
        await WriteAsync(rows, isSafe: false);
        Compare(rows, (await WorkbookPeers.ByOpenpyxlAsync(FilePath))[0], isSafe: false);
    }

    [PeerFact(WorkbookPeers.Python, WorkbookPeers.Openpyxl)]
    public async Task WriteAsync_MoreRowsThanASheetHolds_GoesOnOnTheNext()
    {
        var rows = MadeTable.Rows(29);

        await WriteAsync(rows, mostRows: 11);

        var sheets = await WorkbookPeers.ByOpenpyxlAsync(FilePath);
        Assert.Equal(["cuts", "cuts 2", "cuts 3", "columns"], sheets.Select(sheet => sheet.Name));
        Assert.All(sheets, sheet => Assert.True(sheet is { Frozen: "A2", IsHeaderBold: true }));
        Assert.Equal(["A1:J11", "A1:J11", "A1:J11", null], sheets.Select(sheet => sheet.Filter));
        Assert.All(sheets[0].Widths, width => Assert.InRange(width, 10, 60));
        Compare(rows.Take(10), sheets[0], isSafe: true);
        Compare(rows.Skip(10).Take(10), sheets[1], isSafe: true);
        Compare(rows.Skip(20), sheets[2], isSafe: true);
    }

    [PeerFact(WorkbookPeers.Python, WorkbookPeers.Openpyxl)]
    public async Task FinishAsync_ASheetThatIsJustFull_BeginsNoOther()
    {
        await WriteAsync(MadeTable.Rows(20), mostRows: 11);
        Assert.Equal(["cuts", "cuts 2", "columns"], (await WorkbookPeers.ByOpenpyxlAsync(FilePath)).Select(sheet => sheet.Name));
    }

    [PeerFact(WorkbookPeers.Python, WorkbookPeers.Openpyxl)]
    public async Task FinishAsync_NoRows_HasTheHeaderAndTheColumns()
    {
        await WriteAsync([]);

        var sheets = await WorkbookPeers.ByOpenpyxlAsync(FilePath);
        Assert.Equal(["cuts", "columns"], sheets.Select(sheet => sheet.Name));
        Assert.Single(sheets[0].Rows);
        var told = sheets[1].Rows.Select(row => row.Select(cell => cell.Value.GetString() ?? "").ToArray()).ToList();
        Assert.Equal(["column", "type", "unit", "meaning", "empty"], told[0]);
        for (var i = 0; i < MadeTable.Head.Columns.Count; i++)
        {
            var column = MadeTable.Head.Columns[i];
            Assert.Equal([column.Name, column.Type.ToString().ToLowerInvariant(), column.Unit, column.Meaning, column.EmptyWhen], told[i + 1]);
        }

        Assert.Contains(told, row => row[0] == "this file" && row[3] == $"cuts: {MadeTable.Head.Meaning} 0 rows, written by SawEdge {ProgramVersion.Text}.");
        Assert.Contains(told, row => row[0] == "texts" && row[3].Contains("single quote", StringComparison.Ordinal));
    }

    [PeerFact(WorkbookPeers.Python, WorkbookPeers.Openpyxl)]
    public async Task WriteAsync_WhatACellCannotHold_IsText()
    {
        var head = new TableHead("t", "t", [new("a", ColumnType.Time, "", "", ""), new("b", ColumnType.Integer, "", "", ""), new("c", ColumnType.Text, "", "", "")]);
        Cell[][] rows =
        [
            [Cell.Of(new DateTimeOffset(1900, 2, 28, 23, 59, 59, 999, TimeSpan.Zero)), Cell.Of(long.MinValue), Cell.Of(new string('a', 32_767))],
            [Cell.Of(new DateTimeOffset(1900, 3, 1, 0, 0, 0, 1, TimeSpan.Zero)), Cell.Of(999_999_999_999_999L), Cell.Of(new string('b', 32_768))],
            [Cell.Of(DateTimeOffset.MinValue), Cell.Of(1_000_000_000_000_000L), Cell.Of(new string('c', 32_765) + "\U0001F600\U0001F600")],
            [Cell.Of(DateTimeOffset.MaxValue), Cell.Of(0L), Cell.Of("=" + new string('d', 32_766))],
        ];
        await using (var stream = File.Create(FilePath))
            await MadeTable.WriteAsync(new WorkbookRows(head, Style(true), stream), head, rows);

        var read = (await WorkbookPeers.ByOpenpyxlAsync(FilePath))[0].Rows.Skip(1).ToList();
        Assert.Equal(["1900-02-28T23:59:59.999Z", "-2203891199999", "0001-01-01T00:00:00.000Z", "253402300799999"], read.Select(row => row[0].Value.ValueKind == JsonValueKind.String ? row[0].Value.GetString() : row[0].Value.GetDouble().ToString(CultureInfo.InvariantCulture)));
        Assert.Equal(["s", "n", "s", "n"], read.Select(row => row[1].Type));
        Assert.Equal(["-9223372036854775808", "999999999999999", "1000000000000000", "0"], read.Select(row => row[1].Value.ToString()));
        string[] texts = [.. read.Select(row => row[2].Value.GetString()!)];
        Assert.Equal(new string('a', 32_767), texts[0]);
        Assert.Equal(new string('b', 32_766) + "…", texts[1]);
        Assert.Equal(new string('c', 32_765) + "…", texts[2]);
        Assert.Equal("'=" + new string('d', 32_764) + "…", texts[3]);
    }

    [Fact]
    public async Task WriteAsync_TheSameRows_GiveTheSameBytesWhereverTheyGo()
    {
        await WriteAsync(MadeTable.Rows(3_000));
        using var memory = new MemoryStream();
        var answer = new AnswerStream(memory);
        await MadeTable.WriteAsync(new WorkbookRows(MadeTable.Head, Style(true), answer), MadeTable.Head, MadeTable.Rows(3_000), capacity: 77);
        Assert.True(answer.WasFlushed);
        Assert.Equal(await File.ReadAllBytesAsync(FilePath), memory.ToArray());

        // Neither the archive nor a document property tells when it was made.
        using var book = ZipFile.OpenRead(FilePath);
        Assert.All(book.Entries, entry => Assert.Equal(new DateTime(1980, 1, 1), entry.LastWriteTime.DateTime));
        Assert.DoesNotContain(book.Entries, entry => entry.FullName.StartsWith("docProps", StringComparison.Ordinal));
    }

    [Fact]
    public async Task DisposeAsync_NotFinished_WritesNothing()
    {
        using var memory = new MemoryStream();
        var writer = new WorkbookRows(MadeTable.Head, Style(true), memory);
        await writer.WriteAsync(MadeTable.Batches(MadeTable.Head, MadeTable.Rows(2_000)).Single(), default);
        var before = memory.Length;
        await writer.DisposeAsync();
        Assert.Equal(before, memory.Length);
        Assert.Throws<InvalidDataException>(() => new ZipArchive(new MemoryStream(memory.ToArray())));
    }

    [Fact]
    public async Task WriteAsync_Cancelled_BreaksOff()
    {
        await using var writer = new WorkbookRows(MadeTable.Head, Style(true), new AnswerStream(Stream.Null));
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => writer.WriteAsync(MadeTable.Batches(MadeTable.Head, MadeTable.Rows(2_000)).Single(), new CancellationToken(true)));
    }

    private static TableStyle Style(bool isSafe) => new() { Format = TableFormat.Workbook, IsSafeForSpreadsheets = isSafe };

    private async Task WriteAsync(IReadOnlyList<Cell[]> rows, bool isSafe = true, int mostRows = WorkbookRows.MostRows)
    {
        await using var stream = File.Create(FilePath);
        await MadeTable.WriteAsync(new WorkbookRows(MadeTable.Head, Style(isSafe), stream, mostRows), MadeTable.Head, rows);
    }

    // OWASP, CSV Injection, which is where the characters are from.
    private static string Harmless(string text) => text.Length > 0 && "=+-@\t\r\n".Contains(text[0], StringComparison.Ordinal) ? "'" + text : text;

    internal static void Compare(IEnumerable<Cell[]> rows, ReadSheet sheet, bool isSafe)
    {
        var expected = rows.ToList();
        Assert.Equal(expected.Count + 1, sheet.Rows.Count);
        for (var i = 0; i < expected.Count; i++)
        {
            for (var c = 0; c < expected[i].Length; c++)
            {
                var (cell, read, column) = (expected[i][c], sheet.Rows[i + 1][c], MadeTable.Head.Columns[c]);
                var isEqual = !cell.IsKnown ? read.Value.ValueKind == JsonValueKind.Null : column.Type switch
                {
                    ColumnType.Text => read.Type == "s" && read.Value.GetString() == MadeTable.AsUnicode(isSafe ? Harmless(cell.Text) : cell.Text),
                    ColumnType.Time => read.Type == "d" && read.Value.GetDouble() == cell.Milliseconds,
                    ColumnType.Number => read.Type == "n" && read.Value.GetDouble() == cell.Number,
                    ColumnType.Integer => read.Type == "n" && read.Value.GetDouble() == cell.Integer,
                    _ => read.Type == "b" && read.Value.GetBoolean() == cell.Flag,
                };
                Assert.True(isEqual, $"Row {i}, {column.Name}: {read}");
            }
        }
    }
}
