namespace SawEdge.Gateway.Formats.Tables;

/// <summary>What a table can be written as.</summary>
public enum TableFormat : byte
{
    /// <summary>RFC 4180, UTF-8.</summary>
    Csv,

    /// <summary>One JSON object a line, UTF-8.</summary>
    JsonLines,

    /// <summary>Apache Parquet.</summary>
    Parquet,

    /// <summary>Office Open XML workbook (ISO/IEC 29500).</summary>
    Workbook,
}

/// <summary>What a table is, for those who read the file.</summary>
/// <param name="Name">Its name, a word.</param>
/// <param name="Meaning">What a row is, a sentence.</param>
/// <param name="Columns">Its columns, in order.</param>
public sealed record TableHead(string Name, string Meaning, IReadOnlyList<TableColumn> Columns);

/// <summary>How a table is written.</summary>
public sealed record TableStyle
{
    /// <summary>The format.</summary>
    public required TableFormat Format { get; init; }

    /// <summary>Whether CSV and JSON lines are compressed (gzip); the others are compressed by themselves.</summary>
    public bool IsCompressed { get; init; }

    /// <summary>Whether CSV begins with the names of the columns; not where rows are added to a file that has them.</summary>
    public bool HasHeader { get; init; } = true;

    /// <summary>
    /// Whether texts that a spreadsheet would run as a formula are made harmless (OWASP, CSV Injection): in CSV and workbooks. Programs that
    /// read the file switch it off, to get each text as it was.
    /// </summary>
    public bool IsSafeForSpreadsheets { get; init; } = true;
}

/// <summary>Makes the writer of a format.</summary>
public static class TableFormats
{
    /// <summary>The writer of a style.</summary>
    /// <param name="head">The table.</param>
    /// <param name="style">How it is written.</param>
    /// <param name="stream">Where to; need not be able to seek; left open.</param>
    public static IRowWriter Writer(TableHead head, TableStyle style, Stream stream) => style.Format switch
    {
        TableFormat.Csv => new CsvRows(head, style, stream),
        TableFormat.JsonLines => new JsonLinesRows(head, style, stream),
        TableFormat.Parquet => new ParquetRows(head, stream),
        TableFormat.Workbook => new WorkbookRows(head, style, stream),
        _ => throw new ArgumentOutOfRangeException(nameof(style), style.Format, "There is no such format."),
    };

    /// <summary>How a file of a style ends: <c>.csv.gz</c>.</summary>
    public static string Ending(TableStyle style) => style.Format switch
    {
        TableFormat.Csv => ".csv",
        TableFormat.JsonLines => ".jsonl",
        TableFormat.Parquet => ".parquet",
        _ => ".xlsx",
    } + (style is { IsCompressed: true, Format: TableFormat.Csv or TableFormat.JsonLines } ? ".gz" : "");
}
