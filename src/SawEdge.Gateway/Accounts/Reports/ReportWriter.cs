using System.Buffers;
using System.Text;

namespace SawEdge.Gateway.Accounts.Reports;

/// <summary>Writes a report as a page and as a table: under another name first, so that nobody ever finds half of one.</summary>
public static class ReportWriter
{
    /// <summary>Names of the files of a report in a folder.</summary>
    public static (string Html, string Csv) NamesOf(string folder, string gateway, ReportSpan span)
    {
        var name = Path.Combine(folder, $"{ReportSpan.FileText(gateway)}-{span.FileName}");
        return (name + ".html", name + ".csv");
    }

    /// <summary>Writes it.</summary>
    /// <param name="folder">Where; it is made where it is not there.</param>
    /// <param name="report">The report.</param>
    /// <returns>The files.</returns>
    /// <exception cref="IOException">They cannot be written.</exception>
    /// <exception cref="UnauthorizedAccessException">They may not be written.</exception>
    public static (string Html, string Csv) Write(string folder, ReportData report)
    {
        Directory.CreateDirectory(folder);
        var names = NamesOf(folder, report.Gateway, report.Span);
        var csv = new ArrayBufferWriter<byte>();
        ReportCsv.Write(csv, report);
        Put(names.Csv, csv.WrittenSpan);
        Put(names.Html, Encoding.UTF8.GetBytes(ReportHtml.Of(report)));
        return names;
    }

    private static void Put(string file, ReadOnlySpan<byte> content)
    {
        var half = file + ".tmp";
        try
        {
            using (var stream = new FileStream(half, FileMode.Create, FileAccess.Write, FileShare.None))
            {
                stream.Write(content);
                stream.Flush(flushToDisk: true);
            }

            File.Move(half, file, overwrite: true);
        }
        catch
        {
            File.Delete(half);
            throw;
        }
    }
}
