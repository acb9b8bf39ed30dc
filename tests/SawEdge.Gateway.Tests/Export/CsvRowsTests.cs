using System.Globalization;
using System.IO.Compression;
using System.Text;
using CsCheck;
using SawEdge.Core;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Export;

/// <summary>Tables as CSV.</summary>
public sealed class CsvRowsTests
{
    // Before what is made of it.
    private static readonly string[] Short = [.. HostileTexts.All.Where(text => text.Length < 1000)];

    private static readonly TableHead Head = new("t", "A row.", [.. Enum.GetValues<ColumnType>().Select(type => new TableColumn($"{type}".ToLowerInvariant(), type, "", "x", "never"))]);

    [Fact]
    public async Task Write_EachType_IsThisText()
    {
        var text = await TextAsync(
            Head,
            [
                [Cell.Of("a,\"b\""), Cell.OfMilliseconds(1_772_431_200_250), Cell.Of(0.1 + 0.2), Cell.Of(long.MinValue), Cell.Of(true)],
                [default, default, default, default, default],
                [Cell.Of("=1"), Cell.OfMilliseconds(-1), Cell.Of(1e-7), Cell.Of(0L), Cell.Of(false)],
                [Cell.Of("-"), Cell.OfMilliseconds(0), Cell.Of(-0.0), Cell.Of(65535L), Cell.Of(false)],
            ]);
        Assert.Equal(
            "text,time,number,integer,flag\n"
            + "\"a,\"\"b\"\"\",2026-03-02T06:00:00.250Z,0.30000000000000004,-9223372036854775808,true\n"
            + ",,,,\n"
            + "\"'=1\",1969-12-31T23:59:59.999Z,1E-07,0,false\n"
            + "\"'-\",1970-01-01T00:00:00.000Z,-0,65535,false\n",
            text);
        Assert.False(text.StartsWith('\uFEFF'));
    }

    [Fact]
    public async Task Write_NoRows_IsTheHeader()
    {
        Assert.Equal("text,time,number,integer,flag\n", await TextAsync(Head, []));
        Assert.Equal("", await TextAsync(Head, [], TableFormat.JsonLines));
    }

    [Theory]
    [InlineData(TableFormat.Csv)]
    [InlineData(TableFormat.JsonLines)]
    public async Task Write_CultureWithDecimalComma_ChangesNothing(TableFormat format)
    {
        Cell[][] rows = [[Cell.Of("İi"), Cell.OfMilliseconds(1_772_431_200_250), Cell.Of(-1234567.875), Cell.Of(-1234567L), Cell.Of(true)]];
        var expected = await TextAsync(Head, rows, format);
        var before = CultureInfo.CurrentCulture;
        try
        {
            // The program knows no cultures but the invariant one; this is what German and Swedish ones would change.
            var culture = (CultureInfo)CultureInfo.InvariantCulture.Clone();
            culture.NumberFormat = new NumberFormatInfo { NumberDecimalSeparator = ",", NumberGroupSeparator = ".", NegativeSign = "\u2212", PositiveSign = "plus", NaNSymbol = "keine Zahl" };
            culture.DateTimeFormat = new DateTimeFormatInfo { DateSeparator = ".", TimeSeparator = "." };
            CultureInfo.CurrentCulture = CultureInfo.CurrentUICulture = culture;
            Assert.Equal("\u22121,5", string.Format(culture, "{0}", -1.5));
            Assert.Equal(expected, await TextAsync(Head, rows, format));
        }
        finally
        {
            CultureInfo.CurrentCulture = CultureInfo.CurrentUICulture = before;
        }

        Assert.Contains("-1234567.875", expected, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(TableFormat.Csv)]
    [InlineData(TableFormat.JsonLines)]
    public async Task Write_Compressed_IsTheSameTextInGzip(TableFormat format)
    {
        Cell[][] rows = [.. Enumerable.Range(0, 5000).Select(i => (Cell[])[Cell.Of($"row {i}"), Cell.OfMilliseconds(i), Cell.Of(i / 3.0), Cell.Of((long)i), Cell.Of(i % 2 == 0)])];
        using var stream = new MemoryStream();
        await WriteAsync(Head, rows, new TableStyle { Format = format, IsCompressed = true }, stream);
        stream.Position = 0;
        using var reader = new StreamReader(new GZipStream(stream, CompressionMode.Decompress));
        Assert.Equal(await TextAsync(Head, rows, format), await reader.ReadToEndAsync());
        Assert.Equal(5000 + (format == TableFormat.Csv ? 1 : 0), (await TextAsync(Head, rows, format)).Count(c => c == '\n'));
        Assert.Equal(".csv.gz", TableFormats.Ending(new TableStyle { Format = TableFormat.Csv, IsCompressed = true }));
    }

    [Fact]
    public async Task Write_HostileTexts_AreThoseTextsOnceReadBack()
    {
        var head = new TableHead("t", "x", [new TableColumn("a", ColumnType.Text, "", "x", "never"), new TableColumn("b", ColumnType.Text, "", "x", "never")]);
        Cell[][] rows = [.. HostileTexts.All.Select(text => (Cell[])[Cell.Of(text), Cell.Of("=" + text)])];
        var asTheyAre = Strict(await TextAsync(head, rows, isSafe: false));
        Assert.Equal(rows.Select(row => row.Select(cell => cell.Text)), asTheyAre.Skip(1));
        var safe = Strict(await TextAsync(head, rows));
        Assert.Equal(rows.Select(row => row.Select(cell => IsFormula(cell.Text) ? "'" + cell.Text : cell.Text)), safe.Skip(1));
    }

    [Fact]
    public void Write_AnyCells_AreReadBackByAStrictReader() =>
        GenRows.Sample(
            rows =>
            {
                var text = TextAsync(Head, rows, isSafe: false).GetAwaiter().GetResult();
                var read = Strict(text);
                Assert.Equal(Head.Columns.Select(column => column.Name), read[0]);
                Assert.Equal(rows.Length, read.Count - 1);
                foreach (var (row, fields) in rows.Zip(read.Skip(1)))
                    Same(row, fields);

                // Made safe, no field begins like a formula, and taking the quote away gives the text back.
                foreach (var (row, fields) in rows.Zip(Strict(TextAsync(Head, rows).GetAwaiter().GetResult()).Skip(1)))
                {
                    Assert.False(fields[0].Length > 0 && IsFormula(fields[0]));
                    Assert.Equal(row[0].Text, IsFormula(row[0].Text) ? fields[0][1..] : fields[0]);
                }
            },
            iter: 500);

    [Fact]
    public async Task Write_ABatch_AllocatesNothingForEachRow()
    {
        foreach (var format in (TableFormat[])[TableFormat.Csv, TableFormat.JsonLines])
        {
            var batch = new RowBatch(5);
            while (!batch.IsFull)
            {
                Cell[] row = [Cell.Of("J-1 Größe"), Cell.OfMilliseconds(1_772_431_200_250), Cell.Of(batch.Count / 7.0), Cell.Of(5L), Cell.Of(true)];
                row.CopyTo(batch.Add());
            }

            await using var writer = TableFormats.Writer(Head, new TableStyle { Format = format }, Stream.Null);
            await writer.WriteAsync(batch, CancellationToken.None);
            Assert.InRange(Allocations.Of(() => Assert.True(writer.WriteAsync(batch, CancellationToken.None).IsCompletedSuccessfully)), 0, 8 * batch.Count / 10);
        }
    }

    internal static readonly Gen<Cell[][]> GenRows =
        Gen.Select(
            Gen.Frequency((3, Gen.Int[0, Short.Length - 1].Select(i => Short[i])), (3, Gen.String[Gen.Char[",;\"'\r\n\t=+-@ aä\0"], 0, 12])),
            Gen.Long[-62_135_596_800_000, 253_402_300_799_999],
            Gen.Double,
            Gen.Long,
            Gen.Bool,
            Gen.Int[0, 31],
            (text, time, number, integer, flag, known) => (Cell[])
            [
                (known & 1) == 0 ? Cell.Of(text) : default,
                (known & 2) == 0 ? Cell.OfMilliseconds(time) : default,
                (known & 4) == 0 ? Cell.Of(number) : default,
                (known & 8) == 0 ? Cell.Of(integer) : default,
                (known & 16) == 0 ? Cell.Of(flag) : default,
            ]).Array[0, 40];

    internal static async Task<string> TextAsync(TableHead head, Cell[][] rows, TableFormat format = TableFormat.Csv, bool isSafe = true)
    {
        using var stream = new MemoryStream();
        await WriteAsync(head, rows, new TableStyle { Format = format, IsSafeForSpreadsheets = isSafe }, stream);
        return Encoding.UTF8.GetString(stream.ToArray());
    }

    private static async Task WriteAsync(TableHead head, Cell[][] rows, TableStyle style, Stream stream)
    {
        await using var writer = TableFormats.Writer(head, style, stream);
        var batch = new RowBatch(head.Columns.Count, 7);
        foreach (var part in rows.Chunk(7))
        {
            batch.Clear();
            foreach (var row in part)
                row.CopyTo(batch.Add());
            await writer.WriteAsync(batch, CancellationToken.None);
        }

        await writer.FinishAsync(CancellationToken.None);
    }

    private static bool IsFormula(string text) => text.Length > 0 && "=+-@\t\r\n".Contains(text[0], StringComparison.Ordinal);

    private static void Same(Cell[] row, string[] fields)
    {
        Assert.Equal(row[0].Text, fields[0]);
        foreach (var (cell, field) in row.Zip(fields))
            Assert.Equal(cell.IsKnown, field.Length > 0);
        if (row[1].IsKnown)
            Assert.Equal(row[1].Milliseconds, DateTimeOffset.ParseExact(fields[1], "yyyy-MM-dd'T'HH:mm:ss.fff'Z'", CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal).ToUnixTimeMilliseconds());
        if (row[2].IsKnown)
            Assert.Equal(BitConverter.DoubleToInt64Bits(row[2].Number), BitConverter.DoubleToInt64Bits(double.Parse(fields[2], CultureInfo.InvariantCulture)));
        if (row[3].IsKnown)
            Assert.Equal(row[3].Integer, long.Parse(fields[3], CultureInfo.InvariantCulture));
        if (row[4].IsKnown)
            Assert.Equal(row[4].Flag, bool.Parse(fields[4]));
    }

    // RFC 4180, section 2, to the letter but for the line end: a quote only where it opens, closes or is doubled; bare fields hold no quote, comma or line break.
    private static List<string[]> Strict(string text)
    {
        var (rows, row, field, at) = (new List<string[]>(), new List<string>(), new StringBuilder(), 0);
        while (at < text.Length)
        {
            field.Clear();
            if (text[at] == '"')
            {
                for (at++; text[at] != '"' || (at + 1 < text.Length && text[at + 1] == '"'); at++)
                {
                    field.Append(text[at]);
                    if (text[at] == '"')
                        at++;
                }

                at++;
            }
            else
            {
                for (; text[at] is not (',' or '\n'); at++)
                    field.Append(text[at] is '"' or '\r' ? throw new FormatException($"A bare {(int)text[at]} at {at}.") : text[at]);
            }

            row.Add(field.ToString());
            if (text[at] == '\n')
            {
                rows.Add([.. row]);
                row.Clear();
            }
            else if (text[at] != ',')
            {
                throw new FormatException($"A field is followed by '{text[at]}' at {at}.");
            }

            at++;
        }

        Assert.Empty(row);
        return rows;
    }
}
