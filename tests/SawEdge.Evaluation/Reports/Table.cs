using System.Globalization;
using System.Text;
using System.Text.Json;

namespace SawEdge.Evaluation.Reports;

/// <summary>How tables are written.</summary>
internal enum TableFormat
{
    /// <summary>Columns for a terminal.</summary>
    Table,

    /// <summary>Markdown for the documentation.</summary>
    Markdown,

    /// <summary>One JSON document.</summary>
    Json,
}

/// <summary>One table of the report.</summary>
/// <param name="Title">Its heading.</param>
/// <param name="Columns">Headings of its columns.</param>
internal sealed record Table(string Title, params IReadOnlyList<string> Columns)
{
    /// <summary>What stands under the heading.</summary>
    public string Note { get; init; } = "";

    public List<string[]> Rows { get; } = [];

    public void Add(params string[] cells)
    {
        if (cells.Length != Columns.Count)
            throw new ArgumentException($"{Title}: {cells.Length} cells for {Columns.Count} columns.", nameof(cells));
        Rows.Add(cells);
    }

    public static void Write(IReadOnlyList<string> head, IReadOnlyList<Table> tables, TableFormat format, TextWriter writer)
    {
        if (format == TableFormat.Json)
        {
            var document = new { head, tables = tables.Select(table => new { table.Title, table.Note, rows = table.Rows.Select(row => table.Columns.Zip(row).ToDictionary(cell => cell.First, cell => cell.Second)) }) };
            writer.WriteLine(JsonSerializer.Serialize(document, JsonOptions));
            return;
        }

        foreach (var line in head)
            writer.WriteLine(line);
        foreach (var table in tables)
        {
            writer.WriteLine();
            writer.WriteLine(format == TableFormat.Markdown ? $"**{table.Title}.** {table.Note}".TrimEnd() : $"{table.Title}. {table.Note}".TrimEnd());
            writer.WriteLine();
            writer.Write(format == TableFormat.Markdown ? table.Markdown() : table.Plain());
        }
    }

    private static readonly JsonSerializerOptions JsonOptions = new() { WriteIndented = true, PropertyNamingPolicy = JsonNamingPolicy.SnakeCaseLower, Encoder = System.Text.Encodings.Web.JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    private string Markdown()
    {
        var text = new StringBuilder();
        text.Append("| ").AppendJoin(" | ", Columns).Append(" |\n|").AppendJoin("|", Columns.Select(_ => "---")).Append("|\n");
        foreach (var row in Rows)
            text.Append("| ").AppendJoin(" | ", row).Append(" |\n");
        return text.ToString();
    }

    private string Plain()
    {
        var text = new StringBuilder();
        var widths = Columns.Select((column, i) => Rows.Select(row => row[i].Length).Append(column.Length).Max()).ToArray();
        foreach (var row in Rows.Prepend([.. Columns]))
            text.Append(string.Join("  ", row.Select((cell, i) => i == 0 ? cell.PadRight(widths[i]) : cell.PadLeft(widths[i]))).TrimEnd()).Append('\n');
        return text.ToString();
    }
}

/// <summary>Figures as they stand in the tables.</summary>
internal static class Figures
{
    /// <summary>What stands where there is nothing to compute from.</summary>
    public const string None = "-";

    public static string Share(long part, long whole) => whole == 0 ? None : ((double)part / whole).ToString("0.000", CultureInfo.InvariantCulture);

    public static string Number(double value, string format = "0.##") => double.IsFinite(value) ? value.ToString(format, CultureInfo.InvariantCulture) : None;

    public static string Number(long value) => value.ToString("#,0", CultureInfo.InvariantCulture);

    /// <summary>Whether a goal is met; nothing where there is no figure.</summary>
    public static string Goal(bool met, bool any = true) => !any ? None : met ? "met" : "missed";

    /// <summary>A share with its 95 % interval (Wilson 1927).</summary>
    public static string WithInterval(long part, long whole)
    {
        if (whole == 0)
            return None;
        var (low, high) = Wilson(part, whole);
        return FormattableString.Invariant($"{(double)part / whole:0.00} ({low:0.00}..{high:0.00})");
    }

    /// <summary>Wilson's score interval of a share, 95 % (E. B. Wilson, J. Am. Stat. Assoc. 22, 1927).</summary>
    public static (double Low, double High) Wilson(long part, long whole)
    {
        const double Z = 1.959964;
        double n = whole;
        var share = part / n;
        var middle = (share + (Z * Z / (2 * n))) / (1 + (Z * Z / n));
        var half = Z / (1 + (Z * Z / n)) * Math.Sqrt((share * (1 - share) / n) + (Z * Z / (4 * n * n)));
        return (Math.Max(0, middle - half), Math.Min(1, middle + half));
    }

    /// <summary>A quantile of values, between the two nearest; NaN without any.</summary>
    public static double Quantile(IEnumerable<double> values, double share)
    {
        var sorted = values.Order().ToArray();
        if (sorted.Length == 0)
            return double.NaN;
        var at = share * (sorted.Length - 1);
        var below = (int)at;
        return below + 1 < sorted.Length ? sorted[below] + ((at - below) * (sorted[below + 1] - sorted[below])) : sorted[^1];
    }
}
