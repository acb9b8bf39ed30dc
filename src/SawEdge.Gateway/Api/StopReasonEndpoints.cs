using System.Globalization;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using SawEdge.Core.Oee;

namespace SawEdge.Gateway.Api;

/// <summary>Why a saw stood.</summary>
/// <param name="Saw">The saw.</param>
/// <param name="From">Begin of the time that is explained.</param>
/// <param name="To">Its end.</param>
/// <param name="Reason">The reason.</param>
/// <param name="Class">What it is booked as: <c>delay</c>, <c>down</c>, <c>setup</c>.</param>
internal sealed record StopReasonBody(string? Saw, DateTimeOffset? From, DateTimeOffset? To, string? Reason, string? Class);

/// <summary>A reason as it is stored.</summary>
internal sealed record StopReasonView(long Id, string Saw, DateTimeOffset From, DateTimeOffset To, string Reason, string Class, string EnteredBy, DateTimeOffset EnteredAt);

/// <summary>Reasons of stops: entered and withdrawn. Every figure that depends on them follows.</summary>
internal static class StopReasonEndpoints
{
    /// <summary>The longest time that one entry explains.</summary>
    public static readonly TimeSpan Longest = TimeSpan.FromDays(31);

    /// <summary>Maps them.</summary>
    public static void Map(RouteGroupBuilder api, ApiContext context)
    {
        api.MapPost("/stops/reasons", (Delegate)((HttpContext http) => EnterAsync(http, context))).Needs(ApiRole.Operate);
        api.MapDelete("/stops/reasons/{id:long}", (HttpContext http, long id) => WithdrawAsync(http, context, id)).Needs(ApiRole.Operate);
    }

    private static async Task<IResult> EnterAsync(HttpContext http, ApiContext context)
    {
        var (body, problem) = await ApiBody.ReadAsync<StopReasonBody>(http);
        if (body is null)
            return problem!;
        var check = new ApiBody(context);
        var saw = check.Saw(body.Saw);
        var from = check.Past("from", body.From);
        if (body.To is not { } to)
            check.Wrong("to", "is missing; write the end of the stop");
        else if (body.From is not null && to <= from)
            check.Wrong("to", $"is not after from ({ApiJson.Moment(from)})");
        else if (to - from > Longest)
            check.Wrong("to", FormattableString.Invariant($"is {(to - from).TotalDays:0.#} days after from; one entry explains {Longest.TotalDays:0} days at most"));
        var reason = check.Text("reason", body.Reason, "is missing; write why the saw stood");
        if (body.Class is not ("delay" or "down" or "setup"))
            check.Wrong("class", $"{(string.IsNullOrEmpty(body.Class) ? "is missing" : $"{QueryReader.Quoted(body.Class)} is not known here")}; write one of delay, down, setup");
        if (check.Problem is { } wrong)
            return wrong;

        var audit = ApiEntering.Audit(http, "stop.reason", saw, ("from", ApiJson.Moment(from)), ("to", ApiJson.Moment(body.To!.Value)), ("reason", reason), ("class", body.Class));
        var entry = new StopReason(new Period(from, body.To.Value), reason, StopClassNames.Parse(body.Class!), context.Now, audit.Who);
        return await ApiEntering.RunAsync(context, audit, async patience =>
            ApiAnswer.Made(new StopReasonView(await context.Writer.EnterStopReasonAsync(saw, entry, audit, patience), saw, entry.Time.From, entry.Time.To, reason, body.Class!, audit.Who, entry.EnteredAt)));
    }

    private static async Task<IResult> WithdrawAsync(HttpContext http, ApiContext context, long id)
    {
        if (await context.Reader.StopReasonAsync(id, http.RequestAborted) is not { } stored)
            return ApiProblem.NotFound(string.Create(CultureInfo.InvariantCulture, $"There is no reason {id} that holds."));
        var audit = ApiEntering.Audit(http, "stop.withdraw", stored.Saw, ("id", id), ("reason", stored.Entry.Reason));
        return await ApiEntering.RunAsync(context, audit, async patience => await context.Writer.WithdrawStopReasonAsync(id, audit, patience)
            ? Results.NoContent()
            : ApiProblem.NotFound(string.Create(CultureInfo.InvariantCulture, $"Reason {id} was withdrawn by somebody else at the same time.")));
    }
}
