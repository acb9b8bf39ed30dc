using SawEdge.Core;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.Tests.Api;

namespace SawEdge.Gateway.Tests.Formats.Tables;

/// <summary>Half a million rows: what is alive does not grow with them.</summary>
[Collection(nameof(MemoryOfTheProcess))]
public class FlatMemoryTests
{
    private const int Rows = 500_000;
    private const double Megabyte = 1 << 20;

    // A row group holds 100,000 rows of 74 bytes of values, and a buffer may be twice as long as what is in it.
    [Fact]
    public async Task Parquet_HalfAMillionRows_HoldsOneRowGroup() =>
        Assert.InRange(await MostAliveAsync(stream => new ParquetRows(MadeTable.Head, stream)), 0, 40);

    [Fact]
    public async Task Workbook_HalfAMillionRows_HoldsNearlyNothing() =>
        Assert.InRange(await MostAliveAsync(stream => new WorkbookRows(MadeTable.Head, new TableStyle { Format = TableFormat.Workbook }, stream)), 0, 4);

    private static async Task<double> MostAliveAsync(Func<Stream, IRowWriter> make)
    {
        var batch = new RowBatch(MadeTable.Head.Columns.Count);
        var before = GC.GetTotalMemory(forceFullCollection: true);
        var most = before;
        await using var writer = make(new AnswerStream(Stream.Null));
        for (var row = 0; row < Rows; row += batch.Count)
        {
            batch.Clear();
            for (var i = 0; !batch.IsFull; i++)
                Fill(batch.Add(), row + i);
            await writer.WriteAsync(batch, default);
            if (row % 10_000 == 0)
                most = Math.Max(most, GC.GetTotalMemory(forceFullCollection: true));
        }

        await writer.FinishAsync(default);
        return (most - before) / Megabyte;
    }

    private static void Fill(Span<Cell> row, int number)
    {
        row[0] = Cell.Of($"cut-{number}");
        row[1] = Cell.Of($"Saw {number % 50}");
        row[2] = Cell.OfMilliseconds(1_700_000_000_000 + (number * 1_000L));
        row[3] = Cell.OfMilliseconds(1_700_000_000_500 + (number * 1_000L));
        row[4] = Cell.Of($"order {number / 50}");
        row[5] = Cell.Of(number * 0.1);
        row[6] = Cell.Of(Math.Sqrt(number));
        row[7] = Cell.Of((long)number);
        row[8] = Cell.Of(number % 2 == 0);
        row[9] = number % 10 == 0 ? Cell.Of("seldom said") : default;
    }
}
