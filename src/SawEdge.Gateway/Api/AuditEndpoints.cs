using System.Globalization;
using System.Text.Json.Nodes;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Api;

/// <summary>An entry of the audit trail.</summary>
internal sealed record AuditView(long Id, DateTimeOffset At, string Who, string Origin, string Action, string Subject, JsonNode? Detail)
{
    /// <summary>The view of an entry.</summary>
    public static AuditView Of(StoredAudit stored) =>
        new(stored.Id, stored.At, stored.Entry.Who, stored.Entry.Origin, stored.Entry.Action, stored.Entry.Subject, stored.Entry.Detail.Length == 0 ? null : JsonNode.Parse(stored.Entry.Detail));
}

/// <summary>The audit trail: who changed what, when, and from where, the latest first.</summary>
internal static class AuditEndpoints
{
    /// <summary>Maps it.</summary>
    public static void Map(RouteGroupBuilder api, ApiContext context) =>
        api.MapGet("/audit", (Delegate)((HttpContext http) => ListAsync(http, context))).Needs(ApiRole.Administer);

    private static async Task<IResult> ListAsync(HttpContext http, ApiContext context)
    {
        var query = new QueryReader(http.Request.Query, context);
        var (from, to) = query.OpenPeriod();
        var limit = query.Limit();
        var cursor = query.Cursor(1);
        long? before = null;
        if (cursor is not null)
        {
            if (long.TryParse(cursor[0], NumberStyles.None, CultureInfo.InvariantCulture, out var id))
                before = id;
            else
                query.Wrong("cursor", "is none that this gateway gave");
        }

        if (query.Problem() is { } problem)
            return problem;
        var items = (await context.Reader.AuditAsync(from, to, before, limit + 1, http.RequestAborted)).Select(AuditView.Of).ToList();
        var next = items.Count > limit ? QueryReader.CursorText(items[limit - 1].Id.ToString(CultureInfo.InvariantCulture)) : null;
        return ApiAnswer.Live(new { items = items.Take(limit), next });
    }
}
