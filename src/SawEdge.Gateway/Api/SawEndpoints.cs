using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;

namespace SawEdge.Gateway.Api;

/// <summary>The saws and what they do now.</summary>
internal static class SawEndpoints
{
    /// <summary>Maps them.</summary>
    public static void Map(RouteGroupBuilder api, ApiContext context, SawViews views)
    {
        api.MapGet("/saws", async (HttpRequest request, CancellationToken cancellation) =>
            new QueryReader(request.Query, context).Problem() ?? ApiAnswer.Live(new { Items = await views.OfAsync(context.Options.Saws, cancellation) }));
        api.MapGet("/saws/{name}", async (string name, HttpRequest request, CancellationToken cancellation) =>
        {
            if (new QueryReader(request.Query, context).Problem() is { } problem)
                return problem;
            var saw = context.Options.Saws.FirstOrDefault(saw => saw.Name == RouteText.Of(name));
            return saw is null
                ? ApiProblem.NotFound($"There is no saw {QueryReader.Quoted(RouteText.Of(name))} here; the saws are {string.Join(", ", context.Options.Saws.Select(known => known.Name))}.")
                : ApiAnswer.Live((await views.OfAsync([saw], cancellation))[0]);
        });
    }
}

/// <summary>Names in a path.</summary>
internal static class RouteText
{
    /// <summary>A name as it was meant: routing leaves an escaped slash as it came.</summary>
    public static string Of(string value) => value.Replace("%2F", "/", StringComparison.OrdinalIgnoreCase);
}
