using SawEdge.Core;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>Declares files of a day each that are written all the time.</summary>
internal static class DailyFilesBinding
{
    private static readonly ChoiceType<string> Column = new([.. CycleColumns.All.Select(column => (column.Name, column.Name, column.Meaning))]);

    /// <summary>One of them.</summary>
    public static ObjectType<DailyFilesOptions> Type { get; } = new("dailyFiles", "Cycles in files of a day each, for other systems: new ones are added as they end, and a list beside them says which days are complete.", o =>
    {
        var name = o.Required("name", ValueTypes.Name("exchange"), "Its name.");
        var folder = o.Required("folder", ValueTypes.Path("/srv/exchange"), "Folder for the files; for these alone.");
        var format = o.Default("format", new ChoiceType<DailyFormat>(("csv", DailyFormat.Csv, "A table: commas, UTF-8, one header line."), ("jsonl", DailyFormat.JsonLines, "One JSON object a line.")), "csv", "Format of the files.");
        var columns = o.Optional("columns", new ListType<string>(Column, 1, "name at least one column, or leave \"columns\" out for all"), "The columns, in order. Left out: all, in the order of the data dictionary.");
        var units = o.Default("units", new ChoiceType<DisplayUnits>(("metric", DisplayUnits.Metric, "mm, cm2, m/min, kW."), ("inch", DisplayUnits.Inch, "in, in2, ft/min, hp; the columns are called so, too.")), "metric", "Units of the values.");
        var isSafe = o.Default("text", new ChoiceType<bool>(("safe", true, "What a spreadsheet would run as a formula gets a single quote before it."), ("as-is", false, "Texts as they are, for programs.")), "safe", "How texts from controllers are written.");
        List<string>? names = columns.IsStated && columns.Value is { } list ? [.. list.Select(item => item.Value).OfType<string>()] : null;
        if (names is not null && names.GroupBy(column => column).FirstOrDefault(group => group.Count() > 1) is { } twice)
            o.ErrorAt("columns", $"names {Words.Quoted(twice.Key)} twice; leave one of them out");
        return new DailyFilesOptions(name, folder.Value is { } path ? Path.GetFullPath(path, o.Folder) : "", format, names, units, isSafe);
    });
}
