using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Export;

namespace SawEdge.Gateway.Commands.Export;

/// <summary>The data dictionary for people at a terminal.</summary>
internal static class DescribedTables
{
    /// <summary>As text.</summary>
    public static string Text(IReadOnlyList<ExportTable> tables)
    {
        using var text = new StringWriter { NewLine = "\n" };
        var page = new TextPage(text);
        foreach (var (index, table) in tables.Index())
        {
            if (index > 0)
                page.Line("");
            page.Line(table.Name);
            page.Wrapped("  ", $"{table.Meaning} Rows come {table.Order}.");
            page.Wrapped("  ", $"Can be chosen by period{string.Concat(TableDescriptions.FiltersOf(table).Select(word => $", {word}"))}.");
            page.Line("");
            foreach (var column in table.Columns)
            {
                page.Line($"  {column.Name} ({column.TypeWord}{(column.Unit.Length > 0 ? $", {column.Unit}" : "")})");
                page.Wrapped("      ", $"{column.Meaning}; {(column.EmptyWhen == "never" ? "never empty" : $"empty {column.EmptyWhen}")}");
            }
        }

        return text.ToString();
    }
}
