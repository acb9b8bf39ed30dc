using System.Data.Common;
using System.Text;
using System.Text.Json;
using SawEdge.Core;
using SawEdge.Gateway.Formats;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Formats.Tables;

/// <summary>Parquet files read by DuckDB 1.5, which shares no line with the library that writes them.</summary>
public sealed class ParquetRowsTests : IDisposable
{
    private readonly TempFolder _folder = new();

    private string FilePath => _folder.File("cuts.parquet");

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task WriteAsync_RowsOfAllTypes_AreReadByDuckDbToTheLastDigit()
    {
        var rows = MadeTable.Rows(5_000);

        await WriteAsync(rows, group: 1_234);

        Compare(rows, FilePath);
    }

    [Fact]
    public async Task WriteAsync_Columns_HaveTheirTypes()
    {
        await WriteAsync(MadeTable.Rows(3));
        var types = DuckFile.Ask("SELECT column_name, column_type FROM (DESCRIBE SELECT * FROM FILE)", FilePath).ToDictionary(row => (string)row[0]!, row => (string)row[1]!);
        Assert.Equal(
            ["VARCHAR", "VARCHAR", "TIMESTAMP WITH TIME ZONE", "TIMESTAMP WITH TIME ZONE", "VARCHAR", "DOUBLE", "DOUBLE", "BIGINT", "BOOLEAN", "VARCHAR"],
            MadeTable.Head.Columns.Select(column => types[column.Name]));
        Assert.Equal(
            ["StringType()", "TimestampType(isAdjustedToUTC=1, unit=TimeUnit(MILLIS=MilliSeconds(), MICROS=<null>, NANOS=<null>))"],
            DuckFile.Ask("SELECT logical_type FROM parquet_schema(FILE) WHERE name IN ('saw', 'started_at')", FilePath).Select(row => (string)row[0]!));
    }

    [Fact]
    public async Task WriteAsync_NoRows_IsAnEmptyTable()
    {
        await WriteAsync([]);
        Assert.Equal(0L, DuckFile.Ask("SELECT count(*) FROM FILE", FilePath).Single()[0]);
        Assert.Equal(MadeTable.Head.Columns.Count, DuckFile.Ask("DESCRIBE SELECT * FROM FILE", FilePath).Count);
    }

    [Fact]
    public async Task WriteAsync_AFile_SaysWhatItsColumnsAre()
    {
        await WriteAsync(MadeTable.Rows(10), group: 5);

        var file = DuckFile.Ask("SELECT decode(key), decode(value) FROM parquet_kv_metadata(FILE)", FilePath).ToDictionary(row => (string)row[0]!, row => (string)row[1]!);
        Assert.Equal(("cuts", MadeTable.Head.Meaning, ProgramVersion.Text), (file["sawedge.table"], file["sawedge.meaning"], file["sawedge.version"]));
        using var columns = JsonDocument.Parse(file["sawedge.columns"]);
        Assert.Equal(MadeTable.Head.Columns.Select(column => column.Name), columns.RootElement.EnumerateArray().Select(column => column.GetProperty("name").GetString()));
        var time = columns.RootElement[6];
        Assert.Equal(
            ("number", "s", "contact to breakthrough", "where \"it\" was not seen; ½ or ü"),
            (time.GetProperty("type").GetString(), time.GetProperty("unit").GetString(), time.GetProperty("meaning").GetString(), time.GetProperty("empty").GetString()));
        Assert.Equal(
            ["cm2", null],
            DuckFile.Ask("SELECT decode(key_value_metadata['unit'::BLOB]) FROM parquet_metadata(FILE) WHERE path_in_schema = 'cut_area_cm2' ORDER BY row_group_id", FilePath).Select(row => row[0]));
    }

    [Fact]
    public async Task WriteAsync_RowGroups_LetAReaderSkipByTimeAndSaw()
    {
        // 20 groups, each of one saw and a day.
        var head = new TableHead("t", "t", [new("saw", ColumnType.Text, "", "", ""), new("started_at", ColumnType.Time, "", "", ""), new("x", ColumnType.Number, "", "", "")]);
        var start = new DateTimeOffset(2026, 1, 1, 0, 0, 0, TimeSpan.Zero);
        var rows = Enumerable.Range(0, 20_000).Select(i => new[] { Cell.Of($"Saw {i / 1_000:00}"), Cell.Of(start.AddDays(i / 1_000).AddSeconds(i % 1_000)), Cell.Of((double)i) });
        await using (var stream = File.Create(FilePath))
            await MadeTable.WriteAsync(new ParquetRows(head, stream, group: 1_000), head, rows);

        Assert.Equal(20L, DuckFile.Ask("SELECT count(DISTINCT row_group_id) FROM parquet_metadata(FILE)", FilePath).Single()[0]);
        var bounds = DuckFile.Ask("SELECT stats_min_value, stats_max_value, stats_null_count FROM parquet_metadata(FILE) WHERE row_group_id = 3 ORDER BY column_id", FilePath);
        Assert.Equal(["Saw 03", "Saw 03", 0L], bounds[0]);
        Assert.Equal(["2026-01-04 00:00:00+00", "2026-01-04 00:16:39+00", 0L], bounds[1]);
        Assert.Equal(["3000.0", "3999.0", 0L], bounds[2]);

        // All other row groups are made unreadable: who finds the rows nevertheless has not opened them.
        Assert.Equal(1_000L, Found("started_at >= TIMESTAMPTZ '2026-01-08 00:00:00+00' AND started_at < TIMESTAMPTZ '2026-01-09 00:00:00+00'", 7));
        Assert.Equal(1_000L, Found("saw = 'Saw 11'", 11));
        Assert.Equal(1_001L, Found("x BETWEEN 4500 AND 5500", 4, 5));
        Assert.ThrowsAny<DbException>(() => Found("saw = 'Saw 11'", 12));

        object? Found(string where, params int[] left)
        {
            var broken = File.ReadAllBytes(FilePath);
            foreach (var chunk in DuckFile.Ask("SELECT row_group_id, data_page_offset, total_compressed_size FROM parquet_metadata(FILE)", FilePath).Where(chunk => !left.Contains((int)(long)chunk[0]!)))
                broken.AsSpan((int)(long)chunk[1]!, (int)(long)chunk[2]!).Fill(0xFF);
            File.WriteAllBytes(_folder.File("broken.parquet"), broken);
            return DuckFile.Ask($"SELECT count(*) FROM FILE WHERE {where}", _folder.File("broken.parquet")).Single()[0];
        }
    }

    [Fact]
    public async Task WriteAsync_TextsBeyondTheFirstPlane_AreNotSkippedByMistake()
    {
        // In UTF-16 U+1F600 comes before U+FF21, in UTF-8 after it: with bounds in the wrong order a reader skips the group.
        var head = new TableHead("t", "t", [new("job", ColumnType.Text, "", "", "")]);
        string[] texts = ["\uFF21", "\U0001F600", "\uFF21", "\U0001F600", "\uFF21", "\U0001F600"];
        await using (var stream = File.Create(FilePath))
            await MadeTable.WriteAsync(new ParquetRows(head, stream), head, texts.Select(text => new[] { Cell.Of(text) }));

        Assert.Equal(["\uFF21", "\U0001F600"], DuckFile.Ask("SELECT stats_min_value, stats_max_value FROM parquet_metadata(FILE)", FilePath).Single());
        foreach (var text in texts)
            Assert.Equal(3L, DuckFile.Ask($"SELECT count(*) FROM FILE WHERE job = '{text}'", FilePath).Single()[0]);
        Assert.Equal(6L, DuckFile.Ask("SELECT count(*) FROM FILE WHERE job > '\uFF20'", FilePath).Single()[0]);
    }

    [Fact]
    public async Task WriteAsync_ColumnsWithoutAnyValue_HaveNoBounds()
    {
        await WriteAsync([.. Enumerable.Range(0, 10).Select(i => new[] { Cell.Of($"c{i}"), default, default, default, default, default, default, default, default, default })]);
        var bounds = DuckFile.Ask("SELECT stats_min_value, stats_max_value, stats_null_count FROM parquet_metadata(FILE) WHERE column_id > 0", FilePath);
        Assert.All(bounds, row => Assert.Equal([null, null, 10L], row));
        Assert.Equal([null, null, null], DuckFile.Ask("SELECT min(cut_time_s), max(part_count), min(started_at) FROM FILE", FilePath).Single());
    }

    [Fact]
    public async Task WriteAsync_TextsThatRepeat_HaveADictionary()
    {
        await WriteAsync(MadeTable.Rows(20_000));
        var encodings = DuckFile.Ask("SELECT path_in_schema, encodings, compression FROM parquet_metadata(FILE)", FilePath).ToDictionary(row => (string)row[0]!, row => (string)row[1]!);
        Assert.Contains("PLAIN_DICTIONARY", encodings["saw"], StringComparison.Ordinal);
        Assert.DoesNotContain("PLAIN_DICTIONARY", encodings["cut_id"], StringComparison.Ordinal);
        Assert.Contains("DELTA_BINARY_PACKED", encodings["started_at"], StringComparison.Ordinal);
    }

    [Fact]
    public async Task WriteAsync_LongTexts_EndARowGroupBeforeItsRowsAreFull()
    {
        var head = new TableHead("t", "t", [new("notes", ColumnType.Text, "", "", "")]);
        await using (var stream = File.Create(FilePath))
            await MadeTable.WriteAsync(new ParquetRows(head, stream, groupBytes: 1_000_000), head, Enumerable.Range(0, 3_000).Select(i => new[] { Cell.Of($"{i} " + new string('ü', 1_000)) }));

        var groups = DuckFile.Ask("SELECT row_group_num_rows, stats_max_value FROM parquet_metadata(FILE)", FilePath);
        Assert.Equal([500L, 500L, 500L, 500L, 500L, 500L], groups.Select(group => group[0]));
        Assert.All(groups, group => Assert.Null(group[1]));
        Assert.Equal(3_000L, DuckFile.Ask("SELECT count(*) FROM FILE WHERE length(notes) > 1000", FilePath).Single()[0]);
    }

    [Fact]
    public async Task WriteAsync_TheSameRows_GiveTheSameBytesWhereverTheyGo()
    {
        await WriteAsync(MadeTable.Rows(3_000), group: 1_000);
        using var memory = new MemoryStream();
        var answer = new AnswerStream(memory);
        await MadeTable.WriteAsync(new ParquetRows(MadeTable.Head, answer, group: 1_000), MadeTable.Head, MadeTable.Rows(3_000), capacity: 77);
        Assert.True(answer.WasFlushed);
        Assert.Equal(await File.ReadAllBytesAsync(FilePath), memory.ToArray());
    }

    [Fact]
    public async Task DisposeAsync_NotFinished_WritesNothing()
    {
        using var memory = new MemoryStream();
        var writer = new ParquetRows(MadeTable.Head, memory, group: 10);
        await writer.WriteAsync(MadeTable.Batches(MadeTable.Head, MadeTable.Rows(25)).Single(), default);
        var before = memory.Length;
        await writer.DisposeAsync();
        Assert.Equal(before, memory.Length);
        Assert.False(memory.ToArray().AsSpan().EndsWith("PAR1"u8));
    }

    [Fact]
    public async Task WriteAsync_Cancelled_BreaksOff()
    {
        using var memory = new MemoryStream();
        await using var writer = new ParquetRows(MadeTable.Head, memory, group: 10);
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => writer.WriteAsync(MadeTable.Batches(MadeTable.Head, MadeTable.Rows(25)).Single(), new CancellationToken(true)));
    }

    private async Task WriteAsync(IReadOnlyList<Cell[]> rows, int group = ParquetRows.UsualGroup)
    {
        await using var stream = File.Create(FilePath);
        await MadeTable.WriteAsync(new ParquetRows(MadeTable.Head, stream, group), MadeTable.Head, rows);
    }

    internal static void Compare(IReadOnlyList<Cell[]> rows, string path)
    {
        var read = DuckFile.Ask("SELECT encode(cut_id), encode(saw), epoch_ms(started_at), epoch_ms(ended_at), encode(job), cut_area_cm2, cut_time_s, part_count, is_trim, encode(notes) FROM FILE", path);
        Assert.Equal(rows.Count, read.Count);
        for (var i = 0; i < rows.Count; i++)
            for (var c = 0; c < rows[i].Length; c++)
                Assert.True(Equals(Expected(MadeTable.Head.Columns[c], rows[i][c]), Comparable(read[i][c])), $"Row {i}, {MadeTable.Head.Columns[c].Name}: {read[i][c]}");
    }

    private static object? Expected(TableColumn column, Cell cell) => !cell.IsKnown ? null : column.Type switch
    {
        ColumnType.Text => MadeTable.AsUnicode(cell.Text),
        ColumnType.Number => BitConverter.DoubleToInt64Bits(cell.Number),
        ColumnType.Flag => cell.Flag,
        _ => cell.Integer,
    };

    private static object? Comparable(object? value) => value switch
    {
        double number => BitConverter.DoubleToInt64Bits(number),
        byte[] utf8 => Encoding.UTF8.GetString(utf8),
        _ => value,
    };
}
