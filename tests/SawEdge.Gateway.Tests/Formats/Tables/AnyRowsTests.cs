using CsCheck;
using SawEdge.Core;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Formats.Tables;

/// <summary>Rows that nobody thought of, in batches and row groups of any size, there and back.</summary>
public class AnyRowsTests
{
    private static readonly Gen<string> Text = Gen.OneOf(
        Gen.String[Gen.Char['\0', '\uFFFF'], 0, 40],
        Gen.String[Gen.Char.AlphaNumeric, 0, 12],
        Gen.Int[0, MadeTable.Names.Count - 1].Select(i => MadeTable.Names[i]));

    // As far as a clock may be off, and no farther than dates go.
    private static readonly Gen<long> Milliseconds = Gen.Long[-62_135_596_800_000, 253_402_300_799_999];

    private static readonly Gen<Cell[]> Row = Gen.Select(
        Gen.Select(Known(Text, Cell.Of), Known(Text, Cell.Of), Known(Milliseconds, Cell.OfMilliseconds), Known(Milliseconds, Cell.OfMilliseconds), Known(Text, Cell.Of)),
        Gen.Select(Known(Gen.Double, Cell.Of), Known(Gen.Double, Cell.Of), Known(Gen.Long, Cell.Of), Known(Gen.Bool, Cell.Of), Known(Text, Cell.Of)),
        (a, b) => new[] { a.Item1, a.Item2, a.Item3, a.Item4, a.Item5, b.Item1, b.Item2, b.Item3, b.Item4, b.Item5 });

    [Fact]
    public void Parquet_AnyRows_AreReadByDuckDb()
    {
        using var folder = new TempFolder();
        Gen.Select(Row.List[0, 150], Gen.Int[1, 80], Gen.Int[1, 30]).Sample(
            (rows, group, capacity) =>
            {
                var path = folder.File($"{Guid.NewGuid()}.parquet");
                using (var stream = File.Create(path))
                    MadeTable.WriteAsync(new ParquetRows(MadeTable.Head, stream, group), MadeTable.Head, rows, capacity).GetAwaiter().GetResult();
                ParquetRowsTests.Compare(rows, path);
                File.Delete(path);
            },
            iter: 50,
            threads: 1);
    }

    [PeerFact(WorkbookPeers.Python, WorkbookPeers.Openpyxl)]
    public void Workbook_AnyRows_AreReadByOpenpyxl()
    {
        // Each reader is a process: few workbooks, of many rows.
        using var folder = new TempFolder();
        Row.List[400].Sample(
            rows =>
            {
                foreach (var row in rows)
                {
                    // What a cell cannot hold has its own test.
                    row[2] = row[2].IsKnown ? Cell.OfMilliseconds(Math.Max(row[2].Milliseconds, 0)) : default;
                    row[3] = row[3].IsKnown ? Cell.OfMilliseconds(Math.Max(row[3].Milliseconds, 0)) : default;
                    row[7] = row[7].IsKnown ? Cell.Of(row[7].Integer % 1_000_000_000_000_000) : default;
                }

                var path = folder.File($"{Guid.NewGuid()}.xlsx");
                using (var stream = File.Create(path))
                    MadeTable.WriteAsync(new WorkbookRows(MadeTable.Head, new TableStyle { Format = TableFormat.Workbook }, stream), MadeTable.Head, rows).GetAwaiter().GetResult();
                WorkbookRowsTests.Compare(rows, WorkbookPeers.ByOpenpyxlAsync(path).GetAwaiter().GetResult()[0], isSafe: true);
            },
            iter: 4,
            threads: 1);
    }

    private static Gen<Cell> Known<T>(Gen<T> values, Func<T, Cell> cell) => Gen.Select(Gen.Int[0, 3], values, (known, value) => known == 0 ? default : cell(value));
}
