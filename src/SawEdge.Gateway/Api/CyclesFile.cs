using Microsoft.AspNetCore.Http;
using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Formats;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Api;

/// <summary>Cycles as a table, sent while they are read: however many they are, memory stays flat.</summary>
/// <param name="context">The gateway.</param>
/// <param name="filter">Which cycles.</param>
internal sealed class CyclesFile(ApiContext context, CycleFilter filter) : IResult
{
    /// <inheritdoc/>
    public async Task ExecuteAsync(HttpContext httpContext)
    {
        var response = httpContext.Response;
        response.ContentType = "text/csv; charset=utf-8; header=present";
        response.Headers.ContentDisposition = "attachment; filename=\"cycles.csv\"";
        response.Headers.CacheControl = "no-store";
        if (HttpMethods.IsHead(httpContext.Request.Method))
            return;
        try
        {
            await CyclesCsv.WriteAsync(response.Body, context.Reader.CyclesAsync(filter, httpContext.RequestAborted), httpContext.RequestAborted);
        }
        catch (HistoryException e) when (response.HasStarted)
        {
            // A table that ends too soon must not look whole: the connection breaks off.
            ApiLog.ExportBroken(context.Loggers.CreateLogger("SawEdge.Gateway.Api"), e.Message);
            httpContext.Abort();
        }
    }
}
