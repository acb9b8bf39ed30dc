using System.Globalization;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Reading;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;

namespace SawEdge.Gateway.Api;

/// <summary>A table that can be exported.</summary>
internal sealed record ExportTableView(string Name, string Meaning, string Order, IReadOnlyList<string> Filters, IReadOnlyList<ExportColumnView> Columns);

/// <summary>A column of a table that can be exported.</summary>
internal sealed record ExportColumnView(string Name, string Type, string? Unit, string Meaning, string Empty);

/// <summary>The history as tables for other programs, and what their columns mean.</summary>
internal static class ExportEndpoints
{
    private static readonly string[] Outcomes = [.. Enum.GetValues<CutOutcome>().Select(outcome => outcome.ToName())];

    /// <summary>Maps them.</summary>
    public static void Map(RouteGroupBuilder api, ApiContext context)
    {
        api.MapGet("/export", (HttpRequest request) => new QueryReader(request.Query, context).Problem() ?? ApiAnswer.Past(new { Items = ExportTables.All.Select(View) }));
        api.MapMethods("/export/{table}", [HttpMethods.Get, HttpMethods.Head], (string table, HttpRequest request) => Answer(RouteText.Of(table), request, context));
    }

    private static IResult Answer(string name, HttpRequest request, ApiContext context)
    {
        if (ExportTables.Find(name) is not { } table)
            return ApiProblem.NotFound($"There is no table {QueryReader.Quoted(name)}; {Words.DidYouMean(name, [.. ExportTables.All.Select(known => known.Name)])}");
        var query = new QueryReader(request.Query, context);
        var (question, style) = (Question(table, query), Style(query));
        if (query.Problem() is { } problem)
            return problem;
        try
        {
            return new ExportAnswer(context, ExportSources.Open(context.Reader, question), style, ExportFiles.Name(table.Name, question.From, question.To, context.Options.TimeZone, style));
        }
        catch (ExportException e)
        {
            return ApiProblem.Parameter("columns", e.Message.TrimEnd('.'));
        }
    }

    // What a table cannot be asked for is not read, and so said to be not known here.
    private static ExportQuestion Question(ExportTable table, QueryReader query)
    {
        bool Has(ExportFilters filter) => table.Filters.HasFlag(filter);

        // A whole history may be asked for: it is not gathered, it streams.
        var (from, to) = query.OpenPeriod(TimeSpan.MaxValue);
        var question = new ExportQuestion
        {
            Table = table,
            From = from,
            To = to,
            Saws = Has(ExportFilters.Saws) ? query.Saws() : null,
            Jobs = Has(ExportFilters.Jobs) ? query.Texts("job") : null,
            Materials = Has(ExportFilters.Materials) ? query.Texts("material") : null,
            Blades = Has(ExportFilters.Blades) ? query.Texts("blade") : null,
            Outcomes = Has(ExportFilters.Outcomes) ? query.Choices("outcome", Outcomes)?.Where(Outcomes.Contains).Select(CutOutcomes.Parse).ToList() : null,
            LeastScore = Has(ExportFilters.Scores) ? query.Quantity("minScore", 0, 12) : null,
            GreatestScore = Has(ExportFilters.Scores) ? query.Quantity("maxScore", 0, 12) : null,
            Columns = query.Names("columns", [.. table.Columns.Select(column => column.Name)]),
            Units = query.Choice("units", "metric", "metric", "inch") == "inch" ? DisplayUnits.Inch : DisplayUnits.Metric,
        };
        if (question.LeastScore > question.GreatestScore)
            query.Wrong("maxScore", string.Create(CultureInfo.InvariantCulture, $"is smaller than minScore ({question.LeastScore}): nothing lies between them"));
        return question;
    }

    private static TableStyle Style(QueryReader query)
    {
        var style = new TableStyle
        {
            Format = ExportFiles.Format(query.Choice("format", "csv", ExportFiles.Formats))!.Value,
            IsCompressed = query.Flag("gzip"),
            IsSafeForSpreadsheets = query.Choice("text", "safe", "safe", "as-is") == "safe",
        };
        if (style.IsCompressed && !ExportFiles.IsText(style.Format))
            query.Wrong("gzip", $"goes with csv and jsonl; {ExportFiles.Word(style.Format)} is compressed by itself");
        return style;
    }

    private static ExportTableView View(ExportTable table) => new(
        table.Name,
        table.Meaning,
        table.Order,
        TableDescriptions.FiltersOf(table),
        [.. table.Columns.Select(column => new ExportColumnView(column.Name, column.TypeWord, column.Unit.Length > 0 ? column.Unit : null, column.Meaning, column.EmptyWhen))]);
}
