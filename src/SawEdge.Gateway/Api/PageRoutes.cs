using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;

namespace SawEdge.Gateway.Api;

/// <summary>The page: <c>/</c> and what it loads from <c>/page/</c>. It holds no data, so everybody may have it.</summary>
internal static class PageRoutes
{
    private const string Policy =
        "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'";

    /// <summary>Maps it.</summary>
    public static void Map(IEndpointRouteBuilder routes)
    {
        string[] methods = [HttpMethods.Get, HttpMethods.Head];
        routes.MapMethods("/", methods, (HttpContext context) => ServeAsync(context, "index.html"));
        routes.MapMethods("/page/{**path}", methods, (HttpContext context, string path) => ServeAsync(context, path));
    }

    private static async Task ServeAsync(HttpContext context, string path)
    {
        var response = context.Response;
        if (PageFiles.Find(path) is not { } file)
        {
            response.StatusCode = StatusCodes.Status404NotFound;
            return;
        }

        var (content, encoding) = file.For(context.Request.GetTypedHeaders().AcceptEncoding);
        var headers = response.Headers;
        headers.ContentSecurityPolicy = Policy;

        // Asked for again each time, and with the tag answered without a body: a page never mixes files of two versions for long.
        headers.CacheControl = "no-cache";
        headers.Vary = "Accept-Encoding";
        headers.ETag = file.TagOf(encoding);
        if (ApiAnswer.Has(context.Request, headers.ETag!))
        {
            response.StatusCode = StatusCodes.Status304NotModified;
            return;
        }

        if (encoding is not null)
            headers.ContentEncoding = encoding;
        response.ContentType = file.ContentType;
        response.ContentLength = content.Length;
        if (!HttpMethods.IsHead(context.Request.Method))
            await response.Body.WriteAsync(content, context.RequestAborted);
    }
}
