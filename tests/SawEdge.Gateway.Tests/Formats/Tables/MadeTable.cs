using SawEdge.Core;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.Tests.Export;

namespace SawEdge.Gateway.Tests.Formats.Tables;

/// <summary>Tables with rows that are made up, and what is done with them.</summary>
internal static class MadeTable
{
    /// <summary>Each type twice, so that one can be known where the other is not.</summary>
    public static TableHead Head { get; } = new(
        "cuts",
        "One row for each cut of the \"made\" kind.",
        [
            new("cut_id", ColumnType.Text, "", "stable identity", "never"),
            new("saw", ColumnType.Text, "", "name of the saw", "never"),
            new("started_at", ColumnType.Time, "", "start", "never"),
            new("ended_at", ColumnType.Time, "", "end", "where it was not seen"),
            new("job", ColumnType.Text, "", "job, as the controller names it", "where there was none"),
            new("cut_area_cm2", ColumnType.Number, "cm2", "area of cut", "where the section is not known"),
            new("cut_time_s", ColumnType.Number, "s", "contact to breakthrough", "where \"it\" was not seen; ½ or ü"),
            new("part_count", ColumnType.Integer, "", "the controller's part counter", "where it has none"),
            new("is_trim", ColumnType.Flag, "", "whether it was a trim cut", "where nobody knows"),
            new("notes", ColumnType.Text, "", "notes", "always, here"),
        ]);

    /// <summary>What people and attackers call a job.</summary>
    public static IReadOnlyList<string> Names { get; } =
    [
        .. HostileTexts.All.Where(text => text.Length < WorkbookText.Longest),
        "<b>&amp;</b>", "]]>", "two\r\nlines", "ﬁ ＡＢ", "\U00020000 beyond", "combining e\u0301", "NUL\0inside", "\u0001\u0002\u001F\u007F", "\uFFFE and \uFFFF",
        "_x0041_ is no A", "_x_ _xZZZZ_ __x0000_", "lone \uD83D high", "lone \uDE00 low", "\uDE00\uD83D turned", "Ω µ ½ ü", new string('y', 300),
    ];

    /// <summary>Some rows: moments before and after 1970, numbers of all sizes, and values that are not known in all mixtures.</summary>
    public static IReadOnlyList<Cell[]> Rows(int count, int seed = 1)
    {
        var random = new Random(seed);
        var start = new DateTimeOffset(2026, 3, 2, 6, 0, 0, 123, TimeSpan.Zero).ToUnixTimeMilliseconds();
        return
        [
            .. Enumerable.Range(0, count).Select(i => new[]
            {
                Cell.Of($"cut-{i}"),
                Cell.Of($"Saw {(i % 7) + 1}"),
                Cell.OfMilliseconds(start + (i * 34_567L)),
                i % 3 == 0 ? default : Cell.OfMilliseconds(random.NextInt64(-2_000_000_000_000, 4_000_000_000_000)),
                i % 13 == 12 ? default : Cell.Of(Names[i % Names.Count]),
                i % 4 == 0 ? default : Cell.Of(random.NextDouble() * 1000),
                i % 6 == 0 ? default : Cell.Of(BitConverter.Int64BitsToDouble(random.NextInt64(long.MinValue, long.MaxValue))),
                i % 7 == 0 ? default : Cell.Of(random.NextInt64(-1_000_000, 1_000_000)),
                i % 8 == 0 ? default : Cell.Of(random.Next(2) == 0),
                default,
            }),
        ];
    }

    /// <summary>Rows as they come from a source.</summary>
    public static IEnumerable<RowBatch> Batches(TableHead head, IEnumerable<Cell[]> rows, int capacity = RowBatch.UsualCapacity)
    {
        var batch = new RowBatch(head.Columns.Count, capacity);
        foreach (var row in rows)
        {
            row.CopyTo(batch.Add());
            if (!batch.IsFull)
                continue;
            yield return batch;
            batch.Clear();
        }

        if (batch.Count > 0)
            yield return batch;
    }

    /// <summary>Writes a whole table.</summary>
    public static async Task WriteAsync(IRowWriter writer, TableHead head, IEnumerable<Cell[]> rows, int capacity = RowBatch.UsualCapacity)
    {
        await using (writer)
        {
            foreach (var batch in Batches(head, rows, capacity))
                await writer.WriteAsync(batch, default);
            await writer.FinishAsync(default);
        }
    }

    /// <summary>What a text is after it was UTF-8: half of a surrogate pair becomes U+FFFD.</summary>
    public static string AsUnicode(string text) => System.Text.Encoding.UTF8.GetString(System.Text.Encoding.UTF8.GetBytes(text));
}

/// <summary>As the answer of a web server: cannot seek, tell its length, or be written synchronously; throws where a library tries.</summary>
internal sealed class AnswerStream(Stream to) : Stream
{
    public long Written { get; private set; }

    public bool WasFlushed { get; private set; }

    public override bool CanRead => false;

    public override bool CanSeek => false;

    public override bool CanWrite => true;

    public override long Length => throw new NotSupportedException();

    public override long Position { get => throw new NotSupportedException(); set => throw new NotSupportedException(); }

    public override void Flush() => throw new InvalidOperationException("Synchronous operations are disallowed.");

    public override Task FlushAsync(CancellationToken cancellationToken)
    {
        WasFlushed = true;
        return to.FlushAsync(cancellationToken);
    }

    public override int Read(byte[] buffer, int offset, int count) => throw new NotSupportedException();

    public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

    public override void SetLength(long value) => throw new NotSupportedException();

    public override void Write(byte[] buffer, int offset, int count) => throw new InvalidOperationException("Synchronous operations are disallowed.");

    public override async ValueTask WriteAsync(ReadOnlyMemory<byte> buffer, CancellationToken cancellationToken = default)
    {
        Written += buffer.Length;
        await to.WriteAsync(buffer, cancellationToken);
    }

    public override Task WriteAsync(byte[] buffer, int offset, int count, CancellationToken cancellationToken) => WriteAsync(buffer.AsMemory(offset, count), cancellationToken).AsTask();

    protected override void Dispose(bool disposing)
    {
        base.Dispose(disposing);
        Assert.Fail("A writer closes the stream that it was lent.");
    }
}
