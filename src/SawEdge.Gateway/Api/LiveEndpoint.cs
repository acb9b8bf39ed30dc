using System.Buffers;
using System.Globalization;
using System.IO.Pipelines;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Http.Features;
using Microsoft.AspNetCore.Routing;
using Microsoft.AspNetCore.Server.Kestrel.Core.Features;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Hosting;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Api;

/// <summary>The event stream (server-sent events, HTML Living Standard section 9.2): events <c>saw</c>, <c>alarm</c> and <c>cycle</c>.</summary>
internal static class LiveEndpoint
{
    /// <summary>Something is sent at least so often, so that whoever stands between does not take the line for dead.</summary>
    public static readonly TimeSpan Heartbeat = TimeSpan.FromSeconds(15);

    /// <summary>A reader who takes nothing for so long is ended.</summary>
    public static readonly TimeSpan Patience = TimeSpan.FromSeconds(30);

    /// <summary>How often it is asked whether the reader may still read.</summary>
    public static readonly TimeSpan AskEvery = TimeSpan.FromMinutes(1);

    private const int SendAtBytes = 16 * 1024;

    /// <summary>Maps it.</summary>
    public static void Map(RouteGroupBuilder api, ApiContext context, LiveHub hub)
    {
        var stopping = ((IEndpointRouteBuilder)api).ServiceProvider.GetService<IHostApplicationLifetime>()?.ApplicationStopping ?? default;
        api.MapGet("/live", (HttpRequest request) =>
        {
            // A reader of text/event-stream can set no parameter of its own but the address.
            var query = new QueryReader(request.Query, context);
            var last = query.Text("lastEventId");
            if (query.Problem() is { } problem)
                return problem;
            return hub.Join() is { } reader
                ? new Stream(context, hub, reader, Sequence(request.Headers["Last-Event-ID"].ToString()) ?? Sequence(last), stopping)
                : (IResult)ApiProblem.NotNow("Too many pages follow the saws at the moment; close some, or try again later.");
        }).Lasts();
    }

    private static long? Sequence(string? text) => long.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out var sequence) ? sequence : null;

    private sealed class Stream(ApiContext context, LiveHub hub, LiveReader reader, long? last, CancellationToken stopping) : IResult
    {
        public async Task ExecuteAsync(HttpContext httpContext)
        {
            context.Meters.ReaderCame();
            using var over = CancellationTokenSource.CreateLinkedTokenSource(httpContext.RequestAborted, stopping);
            try
            {
                await SendAsync(httpContext, over.Token);
            }
            catch (OperationCanceledException) when (over.IsCancellationRequested)
            {
                // The reader went, or the gateway stops.
            }
            finally
            {
                hub.Leave(reader);
                context.Meters.ReaderWent();
            }
        }

        private async Task SendAsync(HttpContext httpContext, CancellationToken over)
        {
            var response = httpContext.Response;
            httpContext.Features.Get<IHttpResponseBodyFeature>()?.DisableBuffering();

            // A slow reader is given its time here, not by the server's own measure.
            if (httpContext.Features.Get<IHttpMinResponseDataRateFeature>() is { } rate)
                rate.MinDataRate = null;
            response.ContentType = "text/event-stream";
            response.Headers.CacheControl = "no-store";
            response.Headers["X-Accel-Buffering"] = "no";
            var output = response.BodyWriter;
            output.Write("retry: 2000\n\n"u8);
            if (last is { } known)
            {
                foreach (var missed in await MissedAsync(known, over))
                    output.Write(missed);
            }

            var asked = context.Time.GetTimestamp();
            while (await FlushAsync(httpContext, output, over) && !reader.IsOver)
            {
                if (context.Time.GetElapsedTime(asked) >= AskEvery)
                {
                    if (!await MayGoOnAsync(httpContext, over))
                        return;
                    asked = context.Time.GetTimestamp();
                }

                var bytes = 0;
                while (bytes < SendAtBytes && reader.Take() is { } told)
                {
                    output.Write(told);
                    bytes += told.Length;
                }

                if (bytes == 0 && !await HasNewsAsync(over))
                    output.Write(":\n\n"u8);
            }
        }

        private static async Task<bool> MayGoOnAsync(HttpContext httpContext, CancellationToken over)
        {
            try
            {
                return httpContext.Items[typeof(ApiCaller)] is not ApiCaller caller || await caller.MayGoOn(over);
            }
            catch (HistoryException)
            {
                // The hub says it; nobody loses a right because the disk is busy.
                return true;
            }
        }

        private async Task<IReadOnlyList<byte[]>> MissedAsync(long known, CancellationToken over)
        {
            try
            {
                return await hub.MissedAsync(known, over);
            }
            catch (HistoryException)
            {
                // The hub says it; what was missed is read by who missed it.
                return [];
            }
        }

        private async Task<bool> HasNewsAsync(CancellationToken over)
        {
            try
            {
                await reader.WaitAsync().WaitAsync(Heartbeat, context.Time, over);
                return true;
            }
            catch (TimeoutException)
            {
                return false;
            }
        }

        // False where the reader takes nothing: it is cut off, for it would not notice an orderly end either.
        private async Task<bool> FlushAsync(HttpContext httpContext, PipeWriter output, CancellationToken over)
        {
            var flush = output.FlushAsync(over);
            if (flush.IsCompletedSuccessfully)
                return !flush.Result.IsCompleted;
            try
            {
                return !(await flush.AsTask().WaitAsync(Patience, context.Time, over)).IsCompleted;
            }
            catch (TimeoutException)
            {
                httpContext.Abort();
                return false;
            }
        }
    }
}
