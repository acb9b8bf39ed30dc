using System.Globalization;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;

namespace SawEdge.Gateway.Api;

/// <summary>Where the links in messages lead.</summary>
internal static class AnswerRoutes
{
    /// <summary>Maps it.</summary>
    public static void Map(IEndpointRouteBuilder routes, AnswerEndpoint answers)
    {
        routes.MapMethods("/answer/{token}", [HttpMethods.Get, HttpMethods.Head], (HttpContext context) => answers.ShowAsync(Harden(context), Token(context))).WithMetadata(new LinkEndpoint());
        routes.MapPost("/answer/{token}", (HttpContext context) => answers.DoAsync(Harden(context), Token(context))).WithMetadata(new LinkEndpoint());
    }

    private static string Token(HttpContext context) => Convert.ToString(context.Request.RouteValues["token"], CultureInfo.InvariantCulture) ?? "";

    private static HttpContext Harden(HttpContext context)
    {
        context.Response.Headers.ContentSecurityPolicy = AnswerPage.ContentSecurityPolicy;
        context.Response.Headers.CacheControl = "no-store";
        return context;
    }
}
