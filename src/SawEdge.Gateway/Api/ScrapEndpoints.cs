using System.Globalization;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Api;

/// <summary>Parts that are not good: one cut by its identity, or a number of them.</summary>
/// <param name="Saw">The saw.</param>
/// <param name="CycleId">The cut.</param>
/// <param name="At">Where no cut is named: when the parts were found; the last before it in the same shift are meant.</param>
/// <param name="Quantity">Where no cut is named: how many.</param>
/// <param name="Reason">Why.</param>
internal sealed record ScrapBody(string? Saw, string? CycleId, DateTimeOffset? At, int? Quantity, string? Reason);

/// <summary>An entry about scrap as it is stored.</summary>
internal sealed record ScrapView(long Id, string Saw, DateTimeOffset At, string? CycleId, int Quantity, string? Job, string? Reason, string EnteredBy, DateTimeOffset EnteredAt)
{
    /// <summary>The view of an entry.</summary>
    public static ScrapView Of(StoredScrap stored) => new(
        stored.Id, stored.Saw, stored.Entry.At, stored.Entry.CycleId, stored.Entry.Quantity, stored.Entry.Job.Length == 0 ? null : stored.Entry.Job, stored.Entry.Reason.Length == 0 ? null : stored.Entry.Reason, stored.Entry.Who, stored.EnteredAt);
}

/// <summary>Scrap: listed, entered, withdrawn.</summary>
internal static class ScrapEndpoints
{
    /// <summary>The most parts of one entry.</summary>
    public const int MostParts = 10_000;

    /// <summary>Maps them.</summary>
    public static void Map(RouteGroupBuilder api, ApiContext context)
    {
        api.MapGet("/scrap", (Delegate)((HttpContext http) => ListAsync(http, context)));
        api.MapPost("/scrap", (Delegate)((HttpContext http) => EnterAsync(http, context))).Needs(ApiRole.Operate);
        api.MapDelete("/scrap/{id:long}", (HttpContext http, long id) => WithdrawAsync(http, context, id)).Needs(ApiRole.Operate);
    }

    private static async Task<IResult> ListAsync(HttpContext http, ApiContext context)
    {
        var query = new QueryReader(http.Request.Query, context);
        var saws = query.Saws();
        var period = query.RequiredPeriod();
        if (query.Problem() is { } problem)
            return problem;
        var items = new List<ScrapView>();
        foreach (var saw in saws ?? [.. context.Options.Saws.Select(saw => saw.Name)])
            items.AddRange((await context.Reader.ScrapAsync(saw, period!.Value, http.RequestAborted)).Select(ScrapView.Of));
        return ApiAnswer.Past(new { items });
    }

    private static async Task<IResult> EnterAsync(HttpContext http, ApiContext context)
    {
        var (body, problem) = await ApiBody.ReadAsync<ScrapBody>(http);
        if (body is null)
            return problem!;
        var check = new ApiBody(context);
        var saw = check.Saw(body.Saw);
        var reason = check.Text("reason", body.Reason);
        var entry = body.CycleId is { Length: > 0 } cycle
            ? await OfCutAsync(check, context, body, cycle, http.RequestAborted)
            : OfNumber(check, body);
        if (check.Problem is { } wrong)
            return wrong;

        var audit = ApiEntering.Audit(http, "scrap.enter", saw, ("cycleId", entry.CycleId), ("at", ApiJson.Moment(entry.At)), ("quantity", entry.Quantity), ("reason", reason.Length == 0 ? null : reason));
        entry = entry with { Reason = reason, Who = audit.Who };
        return await ApiEntering.RunAsync(context, audit, async patience => await context.Writer.EnterScrapAsync(saw, entry, audit, patience) is { } id
            ? ApiAnswer.Made(ScrapView.Of(new StoredScrap(id, saw, entry, context.Now)))
            : ApiProblem.Conflict("This cut is entered as scrap already."));
    }

    private static async Task<ScrapEntry> OfCutAsync(ApiBody check, ApiContext context, ScrapBody body, string cycleId, CancellationToken cancellation)
    {
        if (body.Quantity is not (null or 1))
            check.Wrong("quantity", "goes with \"at\"; one cut is one part");
        if (body.At is not null)
            check.Wrong("at", "goes with \"quantity\"; a cut has its own time");
        var cycle = await context.Reader.CycleAsync(cycleId, cancellation);
        if (cycle is null || cycle.Saw != body.Saw)
            check.Wrong("cycleId", $"there is no cycle {QueryReader.Quoted(cycleId)} of this saw");
        else if (cycle.Outcome is not (CutOutcome.Completed or CutOutcome.UnobservedStart))
            check.Wrong("cycleId", $"this cycle made no part ({cycle.Outcome.ToName()}), so it cannot be scrap");
        return new ScrapEntry(cycle?.EndedAt ?? default, cycleId, 1, cycle?.Job ?? "");
    }

    private static ScrapEntry OfNumber(ApiBody check, ScrapBody body)
    {
        if (body.At is null && body.Quantity is null)
            check.Wrong("cycleId", "is missing; name the cut, or write \"at\" and \"quantity\"");
        else
        {
            check.Past("at", body.At);
            if (body.Quantity is not (>= 1 and <= MostParts))
                check.Wrong("quantity", string.Create(CultureInfo.InvariantCulture, $"{(body.Quantity is null ? "is missing; write" : $"is {body.Quantity}; write")} a whole number from 1 to {MostParts}"));
        }

        return new ScrapEntry(body.At ?? default, null, body.Quantity ?? 0);
    }

    private static async Task<IResult> WithdrawAsync(HttpContext http, ApiContext context, long id)
    {
        if (await context.Reader.ScrapAsync(id, http.RequestAborted) is not { } stored)
            return ApiProblem.NotFound(string.Create(CultureInfo.InvariantCulture, $"There is no entry {id} about scrap that holds."));
        var audit = ApiEntering.Audit(http, "scrap.withdraw", stored.Saw, ("id", id), ("cycleId", stored.Entry.CycleId), ("quantity", stored.Entry.Quantity));
        return await ApiEntering.RunAsync(context, audit, async patience => await context.Writer.WithdrawScrapAsync(id, audit, patience)
            ? Results.NoContent()
            : ApiProblem.NotFound(string.Create(CultureInfo.InvariantCulture, $"Entry {id} was withdrawn by somebody else at the same time.")));
    }
}
