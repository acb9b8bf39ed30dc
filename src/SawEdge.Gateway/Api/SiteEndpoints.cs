using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Api;

/// <summary>The plant and the caller, as a page needs to know them first.</summary>
internal sealed record SiteView(
    string Site, string Gateway, string Version, string TimeZone, string Units, DateTimeOffset Now, IReadOnlyList<SiteSaw> Saws, bool HasCalendar, string Role, IReadOnlyList<StopReasonChoice> StopReasons, IReadOnlyList<string> ScrapReasons, string? Standby);

/// <summary>A saw of the plant.</summary>
internal sealed record SiteSaw(string Name, string? Group);

/// <summary>A reason that a page offers.</summary>
internal sealed record StopReasonChoice(string Reason, string Class);

/// <summary>The plant and the caller.</summary>
internal static class SiteEndpoints
{
    private const int MostReasons = 24;

    // What people say at saws. Common practice, no source.
    private static readonly StopMeaning[] UsualStops =
    [
        new("blade change", StopClass.Setup),
        new("bar change", StopClass.Setup),
        new("job change", StopClass.Setup),
        new("waiting for material", StopClass.Delay),
        new("waiting for crane or forklift", StopClass.Delay),
        new("no operator", StopClass.Delay),
        new("chips and coolant", StopClass.Delay),
        new("repair", StopClass.Down),
        new("maintenance", StopClass.Down),
        new("no orders", StopClass.Down),
    ];

    private static readonly string[] UsualScrap = ["wrong length", "not square", "surface", "wrong material", "material fault"];

    /// <summary>The version of the program.</summary>
    public static string Version => ProgramVersion.Text;

    /// <summary>Maps them.</summary>
    public static void Map(RouteGroupBuilder api, ApiContext context) => api.MapGet("/site", (Delegate)((HttpContext http) => TellAsync(http, context)));

    private static async Task<IResult> TellAsync(HttpContext http, ApiContext context)
    {
        if (new QueryReader(http.Request.Query, context).Problem() is { } problem)
            return problem;
        var options = context.Options;
        var stops = (options.Calendar?.Settings.Meanings.Values ?? [])
            .Concat(await context.Reader.UsedStopReasonsAsync(MostReasons, http.RequestAborted))
            .Concat(UsualStops)
            .DistinctBy(meaning => meaning.Reason, StringComparer.OrdinalIgnoreCase)
            .Take(MostReasons);
        var scrap = (await context.Reader.UsedScrapReasonsAsync(MostReasons, http.RequestAborted)).Concat(UsualScrap).Distinct(StringComparer.OrdinalIgnoreCase).Take(MostReasons);
        return ApiAnswer.Live(new SiteView(
            options.Site,
            options.Gateway,
            Version,
            options.TimeZone.Id,
            options.Units == DisplayUnits.Inch ? "inch" : "metric",
            context.Now,
            [.. options.Saws.Select(saw => new SiteSaw(saw.Name, saw.Group))],
            options.Calendar is not null,
            ApiToken.WordOf(ApiCaller.Of(http).Role),
            [.. stops.Select(meaning => new StopReasonChoice(meaning.Reason, meaning.Class.ToName()))],
            [.. scrap],
            context.Standby()));
    }
}
