using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Accounts;

namespace SawEdge.Gateway.Api;

/// <summary>Where the planned time of saws, groups and the site went.</summary>
internal static class OeeEndpoints
{
    // More spans than this are no answer for a page; days and weeks of a year for all saws are less.
    private const int MostItems = 50_000;

    /// <summary>Maps them.</summary>
    public static void Map(RouteGroupBuilder api, ApiContext context)
    {
        api.MapGet("/oee", async (HttpRequest request, CancellationToken cancellation) =>
        {
            var query = new QueryReader(request.Query, context);
            var by = query.Choice("by", "saw", "saw", "group", "site");
            var each = query.Choice("each", "whole", "hour", "shift", "day", "week", "whole");
            var saws = query.Saws();
            var period = query.RequiredPeriod();
            if (period is { } asked && Spans(each, asked) * (by == "saw" ? saws?.Count ?? context.Options.Saws.Count : 1) > MostItems)
                query.Wrong("each", $"{each} gives more than {MostItems} spans over this period; ask for a shorter period, fewer saws or longer spans");
            if (query.Problem() is { } problem)
                return problem;
            if (NoCalendar(context) is { } missing)
                return missing;
            var items = await context.Oee.FiguresAsync(new OeeQuestion(period!.Value, Enum.Parse<OeeEach>(each, ignoreCase: true), Enum.Parse<OeeBy>(by, ignoreCase: true), saws), cancellation);
            var answer = new { Items = items.Select(OeeView.Of) };
            return period.Value.To <= context.Now ? ApiAnswer.Past(answer) : ApiAnswer.Live(answer);
        });
    }

    /// <summary>Why there are no figures, where there is no calendar.</summary>
    public static ApiProblem? NoCalendar(ApiContext context) => context.Oee.HasCalendar
        ? null
        : ApiProblem.Conflict("There is no shift calendar, so nothing is known of planned time. Describe the plant's shifts under 'calendar' in the configuration.");

    private static double Spans(string each, Period period) => each switch
    {
        "hour" => period.Duration.TotalHours,
        "shift" => period.Duration.TotalDays * 3,
        "day" => period.Duration.TotalDays,
        "week" => period.Duration.TotalDays / 7,
        _ => 1,
    };
}
