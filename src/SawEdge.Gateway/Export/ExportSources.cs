using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Reading;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Export;

/// <summary>What was asked for cannot be exported; the message says what would be right.</summary>
public sealed class ExportException(string message) : Exception(message);

/// <summary>Opens what was asked for.</summary>
public static class ExportSources
{
    // A filter, its name in messages, and whether a question uses it.
    private static readonly (ExportFilters Filter, string Name, Func<ExportQuestion, bool> Asked)[] Filters =
    [
        (ExportFilters.Saws, "saws", question => question.Saws is not null),
        (ExportFilters.Jobs, "jobs", question => question.Jobs is not null),
        (ExportFilters.Materials, "materials", question => question.Materials is not null),
        (ExportFilters.Blades, "blades", question => question.Blades is not null),
        (ExportFilters.Outcomes, "outcomes", question => question.Outcomes is not null),
        (ExportFilters.Scores, "load scores", question => question.LeastScore is not null || question.GreatestScore is not null),
    ];

    /// <summary>The rows of a question, in its columns and units.</summary>
    /// <exception cref="ExportException">It names a column that the table does not have, or filters that mean nothing to it; the message offers the nearest.</exception>
    public static IRowSource Open(HistoryReader reader, ExportQuestion question)
    {
        CheckFilters(question);
        var head = new TableHead(question.Table.Name, question.Table.Meaning, ColumnsOf(question));
        IRowSource source = question.Table.Name switch
        {
            "cycles" => new CycleSource(reader, head, FilterOf(question)),
            "profiles" => new ProfileSource(reader, head, FilterOf(question)),
            "states" => new StateSource(reader, head, question),
            "alarms" => new AlarmSource(reader, head, question),
            "signals" => new SignalSource(reader, head, question),
            var other => throw new ExportException($"The table '{other}' cannot be exported: {Words.DidYouMean(other, [.. ExportTables.All.Select(table => table.Name)])}"),
        };
        return question.Units == DisplayUnits.Inch ? new InchSource(source) : source;
    }

    private static List<TableColumn> ColumnsOf(ExportQuestion question)
    {
        if (question.Columns is not { } names)
            return [.. question.Table.Columns];
        if (names.Count == 0)
            throw new ExportException("No column is named; name at least one, or leave the columns out to get all.");
        var columns = new List<TableColumn>(names.Count);
        foreach (var name in names)
        {
            var column = question.Table.Columns.FirstOrDefault(column => column.Name == name)
                ?? throw new ExportException($"The table {question.Table.Name} has no column {Words.Quoted(name)}: {Words.DidYouMean(name, [.. question.Table.Columns.Select(column => column.Name)])}");
            if (columns.Contains(column))
                throw new ExportException($"The column '{name}' is named twice; name each column once.");
            columns.Add(column);
        }

        return columns;
    }

    private static void CheckFilters(ExportQuestion question)
    {
        foreach (var (filter, name, asked) in Filters)
        {
            if (asked(question) && (question.Table.Filters & filter) == 0)
                throw new ExportException($"The table {question.Table.Name} cannot be filtered by {name}: it can be by {Words.Or(["period", .. Filters.Where(known => (question.Table.Filters & known.Filter) != 0).Select(known => known.Name)])}.");
        }

        if (question is { From: { } from, To: { } to } && from >= to)
            throw new ExportException(string.Create(System.Globalization.CultureInfo.InvariantCulture, $"The period is empty: it begins at {from.UtcDateTime:yyyy-MM-dd'T'HH:mm:ss'Z'} and ends at {to.UtcDateTime:yyyy-MM-dd'T'HH:mm:ss'Z'}; the end must be later."));
        if (question.LeastScore > question.GreatestScore)
            throw new ExportException("The least load score is greater than the greatest; exchange them.");
        if (question.LeastScore is double.NaN || question.GreatestScore is double.NaN)
            throw new ExportException("A load score is a number, as 3.5.");
    }

    /// <summary>The filter of a question about cycles.</summary>
    internal static CycleFilter FilterOf(ExportQuestion question) => new()
    {
        From = question.From,
        To = question.To,
        Ids = question.CycleIds,
        Saws = question.Saws,
        Jobs = question.Jobs,
        Materials = question.Materials,
        Blades = question.Blades,
        Outcomes = question.Outcomes,
        LeastScore = question.LeastScore,
        GreatestScore = question.GreatestScore,
    };
}
