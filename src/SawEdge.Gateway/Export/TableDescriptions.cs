using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats.Tables;

namespace SawEdge.Gateway.Export;

/// <summary>The data dictionary: every column of the tables that can be exported, made from the tables themselves.</summary>
public static class TableDescriptions
{
    private static readonly JsonWriterOptions Layout = new() { Indented = true, NewLine = "\n", Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    private static readonly (ExportFilters Filter, string Word)[] Filters =
    [
        (ExportFilters.Saws, "saw"), (ExportFilters.Jobs, "job"), (ExportFilters.Materials, "material"), (ExportFilters.Blades, "blade"), (ExportFilters.Outcomes, "outcome"), (ExportFilters.Scores, "score"),
    ];

    /// <summary>What a table can be asked for besides a period, in words.</summary>
    public static IReadOnlyList<string> FiltersOf(ExportTable table) => [.. Filters.Where(known => table.Filters.HasFlag(known.Filter)).Select(known => known.Word)];

    /// <summary>As Markdown.</summary>
    public static string Markdown(IReadOnlyList<ExportTable> tables)
    {
        var text = new StringBuilder();
        text.Append("""
            # Data dictionary

            Every column of the tables that `sawedge export` and `GET /api/v1/export/{table}` write. This file is made by `sawedge export --describe --format markdown`.

            | type | CSV | JSON lines | Parquet | workbook |
            |---|---|---|---|---|
            | text | UTF-8 | string | string (UTF-8) | text |
            | time | UTC, RFC 3339 with milliseconds: `2026-03-02T06:00:00.250Z` | the same, as a string | timestamp in milliseconds, UTC | date and time, UTC |
            | number | `.` for decimals, the shortest form that reads back as the same double | number | double | number |
            | integer | digits | number | 64 bits, signed | number |
            | flag | `true`, `false` | `true`, `false` | boolean | TRUE, FALSE |
            | not known | nothing between the commas | `null` | null | empty cell |

            Units stand at the end of the names. With `--units inch` (`units=inch` in the API) the values are converted and the names follow, `cut_area_cm2`
            becomes `cut_area_in2`:
            """);
        text.Append(' ').AppendJoin(", ", InchUnit.All.Select(unit => $"{unit.Metric} to {unit.Inch}")).Append(". All else stays metric.\n");
        text.Append("""

            A Parquet file says in its metadata what it is: `sawedge.table`, `sawedge.meaning`, `sawedge.version` (of the program) and `sawedge.columns`, a JSON array
            with `name`, `type`, `unit`, `meaning` and `empty` of each column. Its row groups (100,000 rows, zstd) state the least and the greatest value of
            each column, so that who asks for some days or a saw reads only those. Half of a surrogate pair, which is no Unicode, becomes U+FFFD, as in all formats.

            A workbook has one sheet of the table's name (further ones, `cycles 2` and so on, where the rows are more than the 1,048,576 that a sheet holds with its
            header) and a sheet `columns` that says what this page says. Names of times end with ` (UTC)`. What a cell cannot hold is text: times
            before 1 March 1900, whole numbers of more than 15 digits. A text of more than 32,767 characters is cut and ends with `…`. Characters that
            XML cannot hold are written as ISO/IEC 29500 says, `_x0001_`: spreadsheets show the character, some libraries leave that to their callers.

            """);
        foreach (var table in tables)
        {
            text.Append('\n').Append("## ").Append(table.Name).Append("\n\n");
            text.Append(table.Meaning).Append(" Rows come ").Append(table.Order).Append(". Can be chosen by period").Append(string.Concat(FiltersOf(table).Select(word => $", {word}"))).Append(".\n\n");
            text.Append("| column | type | unit | what it is | empty |\n|---|---|---|---|---|\n");
            foreach (var column in table.Columns)
                text.Append($"| `{column.Name}` | {column.TypeWord} | {Cell(column.Unit)} | {Cell(column.Meaning)} | {Cell(column.EmptyWhen)} |\n");
        }

        return text.ToString();
    }

    /// <summary>As JSON, one object.</summary>
    public static string Json(IReadOnlyList<ExportTable> tables)
    {
        using var bytes = new MemoryStream();
        using (var json = new Utf8JsonWriter(bytes, Layout))
        {
            json.WriteStartObject();
            json.WriteStartArray("tables");
            foreach (var table in tables)
                Write(json, table);
            json.WriteEndArray();
            json.WriteEndObject();
        }

        return Encoding.UTF8.GetString(bytes.ToArray()) + "\n";
    }

    private static void Write(Utf8JsonWriter json, ExportTable table)
    {
        json.WriteStartObject();
        json.WriteString("name", table.Name);
        json.WriteString("meaning", table.Meaning);
        json.WriteString("order", table.Order);
        json.WriteStartArray("filters");
        foreach (var word in FiltersOf(table))
            json.WriteStringValue(word);
        json.WriteEndArray();
        json.WriteStartArray("columns");
        foreach (var column in table.Columns)
        {
            json.WriteStartObject();
            json.WriteString("name", column.Name);
            json.WriteString("type", column.TypeWord);
            if (column.Unit.Length > 0)
                json.WriteString("unit", column.Unit);
            else
                json.WriteNull("unit");
            json.WriteString("meaning", column.Meaning);
            json.WriteString("empty", column.EmptyWhen);
            json.WriteEndObject();
        }

        json.WriteEndArray();
        json.WriteEndObject();
    }

    private static string Cell(string text) => text.Replace("|", "\\|", StringComparison.Ordinal);
}
