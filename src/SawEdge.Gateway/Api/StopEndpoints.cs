using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Accounts;

namespace SawEdge.Gateway.Api;

/// <summary>The stops of saws in planned time, with their reasons.</summary>
internal static class StopEndpoints
{
    private const double LongestLeastS = 86_400;

    private static readonly TimeSpan LongestPeriod = TimeSpan.FromDays(62);

    /// <summary>Maps them.</summary>
    public static void Map(RouteGroupBuilder api, ApiContext context)
    {
        api.MapGet("/stops", async (HttpRequest request, CancellationToken cancellation) =>
        {
            var query = new QueryReader(request.Query, context);
            var saws = query.Saws();
            var period = query.RequiredPeriod(LongestPeriod);
            var least = TimeSpan.FromSeconds(query.Quantity("least", 0, LongestLeastS) ?? 0);
            if (query.Problem() is { } problem)
                return problem;
            if (OeeEndpoints.NoCalendar(context) is { } missing)
                return missing;
            var items = new List<StopView>();
            foreach (var saw in context.Options.Saws.Where(saw => saws?.Contains(saw.Name) ?? true))
            {
                foreach (var stop in await context.Oee.StopsAsync(saw, period!.Value, least, cancellation))
                    items.Add(StopView.Of(stop));
            }

            return ApiAnswer.Live(new { Items = items.OrderBy(item => item.From).ThenBy(item => item.Saw, StringComparer.Ordinal) });
        });
    }
}

/// <summary>A stop as the API shows it.</summary>
/// <param name="Saw">The saw.</param>
/// <param name="From">Its begin, or that of the period.</param>
/// <param name="To">Its end as far as it is known, or that of the period.</param>
/// <param name="DurationS">Its length, s.</param>
/// <param name="Reason">Its reason.</param>
/// <param name="Class">What it is booked as.</param>
/// <param name="Bucket">Where its time belongs.</param>
/// <param name="ReasonId">The entry that explains it; null: nobody did.</param>
/// <param name="EnteredBy">Who explained it.</param>
/// <param name="EnteredAt">When.</param>
internal sealed record StopView(string Saw, DateTimeOffset From, DateTimeOffset To, double DurationS, string Reason, string Class, string Bucket, long? ReasonId, string? EnteredBy, DateTimeOffset? EnteredAt)
{
    /// <summary>Of a stop.</summary>
    public static StopView Of(SawStop stop) => new(
        stop.Saw,
        stop.Stretch.Time.From,
        stop.Stretch.Time.To,
        stop.Stretch.Time.Duration.TotalSeconds,
        stop.Stretch.Reason,
        stop.Stretch.Class!.Value.ToName(),
        stop.Stretch.Bucket.ToName(),
        stop.Entry?.Id,
        stop.Entry?.Entry.Who,
        stop.Entry?.Entry.EnteredAt);
}
