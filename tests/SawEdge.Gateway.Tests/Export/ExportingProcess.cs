using System.Globalization;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Tests.Export;

/// <summary>Exports all cycles of a folder to a file and prints how many there were.</summary>
internal static class ExportingProcess
{
    public static async Task RunAsync(string folder, string format, string file)
    {
        var source = ExportSources.Open(HistoryReader.OpenFolder(folder), Exported.Cycles);
        var rows = await ExportRun.ToFileAsync(source, new TableStyle { Format = Enum.Parse<TableFormat>(format) }, file, null, CancellationToken.None);
        await Console.Out.WriteLineAsync(rows.ToString(CultureInfo.InvariantCulture));
    }
}
