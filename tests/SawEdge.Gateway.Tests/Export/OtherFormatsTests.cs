using System.Text.Json;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.Tests.Formats.Tables;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Export;

/// <summary>Cycles from the history to a file that another program reads: every column of every record, to the last digit and the millisecond.</summary>
public sealed class OtherFormatsTests
{
    private static readonly CycleRecord[] Records =
    [
        Cycles.Bare(),
        Cycles.Full() with { StartedAt = Cycles.Start.AddMinutes(1), Job = "=1+\U0001F527" },
        Cycles.Make("saw", 5) with { StartedAt = Cycles.Start.AddMinutes(2).AddMilliseconds(789), CutTimeS = 0.1 + 0.2, PeakLoadKw = 1e300, CutTimeRatio = 1e-7 },
    ];

    [Fact]
    public async Task ToFile_Parquet_HoldsTheRecordsForDuckDb()
    {
        using var folder = new TempFolder();
        var file = await WriteAsync(folder, TableFormat.Parquet);
        var names = CycleColumns.All.Select(column => column.Type == ColumnType.Time ? $"epoch_ms({column.Name})" : column.Name);
        Compare(DuckFile.Ask($"SELECT {string.Join(", ", names)} FROM FILE", file));
    }

    [PeerFact(WorkbookPeers.Python, WorkbookPeers.Openpyxl)]
    public async Task ToFile_Workbook_HoldsTheRecordsForOpenpyxl()
    {
        using var folder = new TempFolder();
        var sheet = (await WorkbookPeers.ByOpenpyxlAsync(await WriteAsync(folder, TableFormat.Workbook)))[0];
        Assert.Equal(("cycles", "A2"), (sheet.Name, sheet.Frozen));
        Compare([.. sheet.Rows.Skip(1).Select(row => row.Select((cell, i) => Value(CycleColumns.All[i].Type, cell.Value)).ToArray())]);
    }

    private static async Task<string> WriteAsync(TempFolder folder, TableFormat format)
    {
        await using var history = new RunningHistory();
        foreach (var record in Records)
            await history.AppendAsync(record);
        var style = new TableStyle { Format = format, IsSafeForSpreadsheets = false };
        var file = folder.File("cycles" + TableFormats.Ending(style));
        await ExportRun.ToFileAsync(ExportSources.Open(history.Reader, new ExportQuestion { Table = ExportTables.Find("cycles")! }), style, file, null, default);
        return file;
    }

    private static void Compare(List<object?[]> rows)
    {
        Assert.Equal(Records.Length, rows.Count);
        foreach (var (record, row) in Records.Zip(rows))
        {
            foreach (var (column, value) in CycleColumns.All.Zip(row))
            {
                object? expected = column.Get(record) switch
                {
                    "" => null,
                    DateTimeOffset time => time.ToUnixTimeMilliseconds(),
                    var other => other,
                };
                Assert.True(Equals(expected, value), $"{record.CycleId}, {column.Name}: {value} for {expected}");
            }
        }
    }

    private static object? Value(ColumnType type, JsonElement value) => value.ValueKind == JsonValueKind.Null ? null : type switch
    {
        ColumnType.Text => value.GetString(),
        ColumnType.Number => value.GetDouble(),
        _ => (long)value.GetDouble(),
    };
}
