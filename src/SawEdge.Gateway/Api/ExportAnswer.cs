using Microsoft.AspNetCore.Http;
using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Api;

/// <summary>A table, sent while it is read: however long it is, memory stays flat. Whoever goes away, or hardly reads, ends the reading.</summary>
/// <param name="context">The gateway.</param>
/// <param name="source">The rows.</param>
/// <param name="style">How they are written.</param>
/// <param name="name">Name of the file, plain ASCII.</param>
internal sealed class ExportAnswer(ApiContext context, IRowSource source, TableStyle style, string name) : IResult
{
    /// <summary>How long a reader may take nothing.</summary>
    public static readonly TimeSpan Patience = TimeSpan.FromSeconds(30);

    /// <inheritdoc/>
    public async Task ExecuteAsync(HttpContext httpContext)
    {
        var response = httpContext.Response;
        response.ContentType = ExportFiles.MediaType(style);
        response.Headers.ContentDisposition = $"attachment; filename=\"{name}\"";
        response.Headers.CacheControl = "no-store";
        if (HttpMethods.IsHead(httpContext.Request.Method))
            return;
        var body = new PatientStream(response.Body, Patience, context.Time);
        context.Meters.ExportBegan();
        try
        {
            await using var writer = TableFormats.Writer(source.Head, style, body);
            await ExportRun.CopyAsync(source, writer, null, httpContext.RequestAborted);
        }
        catch (OperationCanceledException) when (body.HasEnded)
        {
            httpContext.Abort();
        }
        catch (HistoryException e) when (response.HasStarted)
        {
            // A table that ends too soon must not look whole: the connection breaks off.
            ApiLog.ExportBroken(context.Loggers.CreateLogger("SawEdge.Gateway.Api"), source.Head.Name, e.Message);
            httpContext.Abort();
        }
        catch (HistoryException)
        {
            // The answer becomes another one, which is no file.
            response.Headers.ContentDisposition = default;
            throw;
        }
        finally
        {
            context.Meters.ExportEnded();
        }
    }
}
