using System.Globalization;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Api;

/// <summary>Cycles, and one cycle.</summary>
internal static class CycleEndpoints
{
    private static readonly string[] Outcomes = [.. Enum.GetValues<CutOutcome>().Select(outcome => outcome.ToName())];

    /// <summary>Maps them.</summary>
    public static void Map(RouteGroupBuilder api, ApiContext context)
    {
        api.MapGet("/cycles", async (HttpRequest request, CancellationToken cancellation) =>
        {
            var query = new QueryReader(request.Query, context);
            var filter = Filter(query);
            var latestFirst = query.Choice("order", "latest", "latest", "earliest") == "latest";
            var limit = query.Limit();
            var after = Place(query);
            if (query.Problem() is { } problem)
                return problem;
            var (cycles, next) = await context.Reader.CyclePageAsync(filter, latestFirst, after, limit, cancellation);
            return ApiAnswer.Past(new { Items = cycles, Next = next is { } place ? Cursor(place) : null });
        });
        api.MapGet("/cycles/{id}", async (string id, HttpRequest request, CancellationToken cancellation) =>
        {
            if (new QueryReader(request.Query, context).Problem() is { } problem)
                return problem;
            return await CycleDetail.ReadAsync(context.Reader, RouteText.Of(id), cancellation) is { } detail
                ? ApiAnswer.Past(detail)
                : ApiProblem.NotFound($"There is no cycle {QueryReader.Quoted(RouteText.Of(id))} in this gateway's history. A cycle's identity is its saw and the moment it began, as 'saw-20260302T060000000Z'.");
        });
    }

    private static CycleFilter Filter(QueryReader query)
    {
        var (from, to) = query.OpenPeriod();
        return new CycleFilter
        {
            Saws = query.Saws(),
            From = from,
            To = to,
            Jobs = One(query.Text("job")),
            Materials = One(query.Text("material")),
            Blades = One(query.Text("blade")),
            Outcomes = query.OptionalChoice("outcome", Outcomes) is { } outcome ? [CutOutcomes.Parse(outcome)] : null,
            LeastScore = query.Quantity("minScore", 0, 12),
        };
    }

    private static string[]? One(string? text) => text is null ? null : [text];

    private static string Cursor(CyclePlace place) =>
        QueryReader.CursorText(place.StartedAt.ToUnixTimeMilliseconds().ToString(CultureInfo.InvariantCulture), place.Saw, place.Id.ToString(CultureInfo.InvariantCulture));

    private static CyclePlace? Place(QueryReader query)
    {
        if (query.Cursor(3) is not [var start, var saw, var row])
            return null;
        if (long.TryParse(start, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out var milliseconds) && long.TryParse(row, NumberStyles.None, CultureInfo.InvariantCulture, out var id) && IsMoment(milliseconds))
            return new CyclePlace(DateTimeOffset.FromUnixTimeMilliseconds(milliseconds), saw, id);
        query.Wrong("cursor", "is none that this gateway gave; take \"next\" from the page before as it is, or leave it out for the first page");
        return null;
    }

    private static bool IsMoment(long milliseconds) => milliseconds >= DateTimeOffset.MinValue.ToUnixTimeMilliseconds() && milliseconds <= DateTimeOffset.MaxValue.ToUnixTimeMilliseconds();
}
