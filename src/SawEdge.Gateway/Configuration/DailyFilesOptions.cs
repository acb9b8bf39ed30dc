namespace SawEdge.Gateway.Configuration;

/// <summary>What daily files are written as.</summary>
public enum DailyFormat : byte
{
    /// <summary>A table with commas, one header line.</summary>
    Csv,

    /// <summary>One JSON object a line.</summary>
    JsonLines,
}

/// <summary>Cycles that the gateway keeps writing to files of a day each, for other systems of the plant.</summary>
/// <param name="Name">Its name; names are unique.</param>
/// <param name="Folder">Where, full path; no two write into the same.</param>
/// <param name="Format">The format.</param>
/// <param name="Columns">The columns by their metric names, in order; null: all.</param>
/// <param name="Units">Units of the values.</param>
/// <param name="IsSafeForSpreadsheets">Whether texts that a spreadsheet would run as a formula are made harmless.</param>
public sealed record DailyFilesOptions(string Name, string Folder, DailyFormat Format, IReadOnlyList<string>? Columns, DisplayUnits Units, bool IsSafeForSpreadsheets);
