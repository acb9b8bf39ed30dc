using System.Text;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Tests.Export;

/// <summary>Exports for tests.</summary>
internal static class Exported
{
    public static ExportQuestion Cycles { get; } = new() { Table = ExportTables.Cycles };

    /// <summary>All rows of a question, as they come out of batches of a size.</summary>
    public static async Task<List<Cell[]>> RowsAsync(HistoryReader reader, ExportQuestion question, int batchRows = 7)
    {
        var source = ExportSources.Open(reader, question);
        var batch = new RowBatch(source.Head.Columns.Count, batchRows);
        var rows = new List<Cell[]>();
        while (true)
        {
            batch.Clear();
            await source.FillAsync(batch, CancellationToken.None);
            if (batch.Count == 0)
                return rows;
            for (var i = 0; i < batch.Count; i++)
                rows.Add(batch.Row(i).ToArray());
        }
    }

    /// <summary>A question as a text of a format.</summary>
    public static async Task<string> TextAsync(HistoryReader reader, ExportQuestion question, TableFormat format = TableFormat.Csv, bool isSafe = true)
    {
        using var stream = new MemoryStream();
        var source = ExportSources.Open(reader, question);
        await using (var writer = TableFormats.Writer(source.Head, new TableStyle { Format = format, IsSafeForSpreadsheets = isSafe }, stream))
            await ExportRun.CopyAsync(source, writer, null, CancellationToken.None);
        return Encoding.UTF8.GetString(stream.ToArray());
    }

    /// <summary>The first column of each row, a text.</summary>
    public static async Task<List<string>> FirstAsync(HistoryReader reader, ExportQuestion question, int batchRows = 7) =>
        (await RowsAsync(reader, question, batchRows)).ConvertAll(row => row[0].Text);
}
