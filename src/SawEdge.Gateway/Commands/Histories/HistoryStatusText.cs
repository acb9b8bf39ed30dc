using System.Globalization;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands.Histories;

/// <summary>What a history holds, for people.</summary>
internal static class HistoryStatusText
{
    /// <summary>Prints it.</summary>
    public static void Write(TextPage page, HistoryStock stock, bool isHeld, MomentText moments)
    {
        page.Line(stock.FilePath);
        page.Pair("gateway", isHeld ? "runs on it" : "none runs on it");
        page.Pair("schema version", stock.Version.ToString(CultureInfo.InvariantCulture));
        page.Pair("size of the file", SizeText.Of(stock.FileBytes));
        page.Pair("of it free, for what is new", $"{SizeText.Of(stock.FreePages * stock.PageBytes)} ({Count(stock.FreePages)} of {Count(stock.Pages)} pages)");
        page.Pair("log beside it", SizeText.Of(stock.LogBytes));
        page.Pair("last number of the journal", Count(stock.LastSequence));
        page.Line("");
        page.Line($"  {"what",-20} {"rows",14} {"content",10}  {"oldest",-16}  newest");
        foreach (var kind in stock.OfKinds)
            page.Line($"  {kind.Name,-20} {Count(kind.Rows),14} {SizeText.Of(kind.Bytes),10}  {Moment(kind.Oldest, moments),-16}  {Moment(kind.Newest, moments)}");
        var content = stock.OfKinds.Sum(kind => kind.Bytes);
        var rest = ((stock.Pages - stock.FreePages) * stock.PageBytes) - content;
        page.Line($"  {"indexes, structure",-20} {"",14} {SizeText.Of(Math.Max(0, rest)),10}");
        if (stock.Aside.Count > 0)
            page.Heading("Set aside; delete them when nobody needs them:");
        foreach (var file in stock.Aside)
            page.Line($"  {Path.GetFileName(file)}  {SizeText.Of(new FileInfo(file).Length)}");
    }

    private static string Moment(DateTimeOffset? moment, MomentText moments) => moment is { } known ? moments.Of(known) : "";

    private static string Count(long count) => count.ToString("N0", CultureInfo.InvariantCulture);
}

/// <summary>Sizes as people read them.</summary>
internal static class SizeText
{
    private static readonly string[] Units = ["B", "kB", "MB", "GB", "TB"];

    /// <summary>Three figures at most, in powers of 1000.</summary>
    public static string Of(long bytes)
    {
        double value = bytes;
        var unit = 0;
        while (value >= 999.5 && unit < Units.Length - 1)
        {
            value /= 1000;
            unit++;
        }

        return string.Create(CultureInfo.InvariantCulture, $"{value.ToString(unit == 0 || value >= 99.5 ? "0" : value >= 9.95 ? "0.0" : "0.00", CultureInfo.InvariantCulture)} {Units[unit]}");
    }
}
