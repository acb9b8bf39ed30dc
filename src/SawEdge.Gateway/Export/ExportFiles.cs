using System.Globalization;
using SawEdge.Gateway.Formats.Tables;

namespace SawEdge.Gateway.Export;

/// <summary>What formats are called, and how files of them end and are named.</summary>
public static class ExportFiles
{
    /// <summary>The words of the formats, in the order of <see cref="TableFormat"/>.</summary>
    public static IReadOnlyList<string> Formats { get; } = ["csv", "jsonl", "parquet", "xlsx"];

    /// <summary>The word of a format.</summary>
    public static string Word(TableFormat format) => Formats[(int)format];

    /// <summary>The format of a word; null where there is none.</summary>
    public static TableFormat? Format(string word) => Formats.Index().Where(known => known.Item == word).Select(known => (TableFormat?)known.Index).FirstOrDefault();

    /// <summary>How a file of that name is written, by its ending; null where no format ends like that.</summary>
    public static TableStyle? OfEnding(string path)
    {
        var isCompressed = path.EndsWith(".gz", StringComparison.OrdinalIgnoreCase);
        var ending = Path.GetExtension(isCompressed ? path[..^3] : path).TrimStart('.').ToLowerInvariant();
        return Format(ending == "ndjson" ? "jsonl" : ending) is { } format ? new TableStyle { Format = format, IsCompressed = isCompressed } : null;
    }

    /// <summary>Whether a format can be compressed from outside; the others are compressed by themselves.</summary>
    public static bool IsText(TableFormat format) => format is TableFormat.Csv or TableFormat.JsonLines;

    /// <summary>
    /// The media type of a style. JSON lines have none that is registered: <c>application/jsonl</c> is what jsonlines.org names, and names
    /// that begin with <c>x-</c> are advised against (RFC 6648).
    /// </summary>
    public static string MediaType(TableStyle style) => style switch
    {
        { IsCompressed: true, Format: TableFormat.Csv or TableFormat.JsonLines } => "application/gzip",
        { Format: TableFormat.Csv } => "text/csv; charset=utf-8; header=present",
        { Format: TableFormat.JsonLines } => "application/jsonl",
        { Format: TableFormat.Parquet } => "application/vnd.apache.parquet",
        _ => "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    };

    /// <summary>The name of a file, plain ASCII: <c>cycles-20260302-20260308.csv</c>, with the last day that it holds; times where the period begins or ends within a day.</summary>
    /// <param name="table">The table.</param>
    /// <param name="from">Begin of the period; null: the beginning.</param>
    /// <param name="to">Its end; null: the end.</param>
    /// <param name="zone">Where the days are.</param>
    /// <param name="style">How it is written.</param>
    public static string Name(string table, DateTimeOffset? from, DateTimeOffset? to, TimeZoneInfo zone, TableStyle style)
    {
        DateTime? Local(DateTimeOffset? moment) => moment is { } known ? TimeZoneInfo.ConvertTime(known, zone).DateTime : null;
        var (begin, end) = (Local(from), Local(to));
        var isWholeDays = (begin ?? DateTime.MinValue).TimeOfDay == TimeSpan.Zero && (end ?? DateTime.MinValue).TimeOfDay == TimeSpan.Zero;
        var (first, last) = isWholeDays ? (Day(begin), Day(end?.AddDays(-1))) : (Minute(begin), Minute(end));
        var period = (first, last) switch
        {
            (null, null) => "",
            (null, _) => $"-to-{last}",
            (_, null) => $"-from-{first}",
            _ => first == last ? $"-{first}" : $"-{first}-{last}",
        };
        return $"{table}{period}{TableFormats.Ending(style)}";
    }

    private static string? Day(DateTime? moment) => moment?.ToString("yyyyMMdd", CultureInfo.InvariantCulture);

    private static string? Minute(DateTime? moment) => moment?.ToString("yyyyMMdd'T'HHmm", CultureInfo.InvariantCulture);
}
