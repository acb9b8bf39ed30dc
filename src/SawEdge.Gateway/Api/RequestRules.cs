using System.Diagnostics;
using Microsoft.AspNetCore.Http;
using Microsoft.Extensions.Logging;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Api;

/// <summary>What holds for every request: strict headers, and each failure ends in an answer that says what it was.</summary>
/// <param name="meters">Counts; null: nobody wants to know.</param>
/// <param name="logger">Where it speaks.</param>
internal sealed class RequestRules(ApiMeters? meters, ILogger logger)
{
    /// <summary>What a browser may do with an answer that is no page: nothing.</summary>
    private const string Nothing = "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

    private int _historyTrouble;

    /// <summary>Runs the next step and looks at how it ended.</summary>
    public async Task WatchAsync(HttpContext context, RequestDelegate next)
    {
        Harden(context.Response.Headers);
        var began = Stopwatch.GetTimestamp();
        try
        {
            await next(context);
            if (!context.Response.HasStarted)
                await ExplainAsync(context);
            if (context.Response.StatusCode < StatusCodes.Status500InternalServerError)
                Interlocked.Exchange(ref _historyTrouble, 0);
        }
        catch (OperationCanceledException) when (context.RequestAborted.IsCancellationRequested)
        {
            // Whoever asked has gone.
        }
        catch (Exception e)
        {
            await AnswerAsync(context, Problem(context, e), e);
        }

        meters?.Count(context.Response.StatusCode);
        ApiLog.Answered(logger, context.Request.Method, context.GetEndpoint()?.DisplayName ?? "no endpoint", context.Response.StatusCode, Stopwatch.GetElapsedTime(began).TotalMilliseconds);
    }

    private static void Harden(IHeaderDictionary headers)
    {
        // No Strict-Transport-Security: it holds for all ports of a host, and others there may have no TLS.
        headers.ContentSecurityPolicy = Nothing;
        headers.XContentTypeOptions = "nosniff";
        headers.XFrameOptions = "DENY";
        headers["Referrer-Policy"] = "no-referrer";
        headers["Cross-Origin-Opener-Policy"] = "same-origin";
        headers["Cross-Origin-Resource-Policy"] = "same-origin";
        headers["Permissions-Policy"] = "camera=(), microphone=(), geolocation=(), payment=(), usb=()";
        headers["X-Robots-Tag"] = "noindex";
    }

    // Routing and limits leave an empty answer.
    private static Task ExplainAsync(HttpContext context)
    {
        var path = context.Request.Path;
        if (context.Response.ContentType is not null || !path.StartsWithSegments("/api"))
            return Task.CompletedTask;
        var method = context.Request.Method;
        return context.Response.StatusCode switch
        {
            StatusCodes.Status404NotFound => ApiProblem.NotFound($"There is nothing at this address; {ApiRoutes.Prefix}/openapi.json lists what there is.").ExecuteAsync(context),
            StatusCodes.Status405MethodNotAllowed => ApiProblem.Of(StatusCodes.Status405MethodNotAllowed, "Method Not Allowed", $"{QueryReader.Quoted(method)} does nothing here; allowed: {context.Response.Headers.Allow}.").ExecuteAsync(context),
            StatusCodes.Status429TooManyRequests => ApiProblem.TooMany("Too many requests came from this address; try again in a minute.").ExecuteAsync(context),
            _ => Task.CompletedTask,
        };
    }

    private ApiProblem Problem(HttpContext context, Exception error)
    {
        switch (error)
        {
            case BadHttpRequestException bad:
                return bad.StatusCode == StatusCodes.Status413PayloadTooLarge
                    ? ApiProblem.Body(bad.StatusCode, FormattableString.Invariant($"The body is larger than {ApiHost.LargestBody} bytes."))
                    : ApiProblem.Body(bad.StatusCode, bad.Message);
            case HistoryException:
                if (Interlocked.Exchange(ref _historyTrouble, 1) == 0)
                    ApiLog.HistoryTrouble(logger, error.Message);
                return ApiProblem.NotNow("The history of the gateway cannot be used at the moment; the gateway's log says why.");
            default:
                ApiLog.Failed(logger, context.Request.Method, context.GetEndpoint()?.DisplayName ?? "no endpoint", error);
                return ApiProblem.Of(StatusCodes.Status500InternalServerError, "Internal Server Error", "The gateway made a mistake; its log says which.");
        }
    }

    private static Task AnswerAsync(HttpContext context, ApiProblem problem, Exception error)
    {
        // What has begun cannot become another answer: the connection is broken off, so that nobody takes a half for the whole.
        if (context.Response.HasStarted)
        {
            context.Abort();
            return Task.CompletedTask;
        }

        context.Response.StatusCode = problem.Status;
        context.Response.Headers.ContentLength = null;
        if (error is BadHttpRequestException && !context.Request.Path.StartsWithSegments("/api"))
            return Task.CompletedTask;
        return problem.ExecuteAsync(context);
    }
}
