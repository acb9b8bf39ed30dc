using System.Globalization;
using System.Threading.RateLimiting;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Server.Kestrel.Core;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Api;

/// <summary>
/// Serves people over HTTP: for now only what is behind the links in messages. No cookies, nothing stored at the browser, nothing
/// loaded from elsewhere, small requests only, and not many of them.
/// </summary>
public sealed class ApiHost
{
    /// <summary>Requests that one address may make in a minute.</summary>
    public const int MostInAMinute = 120;

    /// <summary>The largest body that is read, bytes.</summary>
    public const int LargestBody = 4096;

    private const int MostConnections = 100;

    private static readonly TimeSpan ListenRetry = TimeSpan.FromSeconds(10);
    private static readonly TimeSpan LastRequests = TimeSpan.FromSeconds(2);

    private readonly AnswerLinkOptions _options;
    private readonly TimeProvider _time;
    private readonly ILoggerFactory _loggers;
    private readonly ILogger _logger;
    private readonly AnswerEndpoint _answers;

    /// <summary>Prepares the host; <see cref="RunAsync"/> serves.</summary>
    /// <param name="options">Where it listens, and how people reach it.</param>
    /// <param name="site">Name of the plant.</param>
    /// <param name="zone">The plant's time zone.</param>
    /// <param name="signer">Tells this gateway's links from others.</param>
    /// <param name="reader">The alarms.</param>
    /// <param name="writer">Where answers go.</param>
    /// <param name="time">The wall clock.</param>
    /// <param name="loggers">Where it speaks.</param>
    public ApiHost(AnswerLinkOptions options, string site, TimeZoneInfo zone, LinkSigner signer, HistoryReader reader, HistoryWriter writer, TimeProvider time, ILoggerFactory loggers)
    {
        _options = options;
        _time = time;
        _loggers = loggers;
        _logger = loggers.CreateLogger<ApiHost>();
        _answers = new AnswerEndpoint(signer, new AnswerPage(site, zone), reader, writer, time, _logger);
    }

    /// <summary>The address that is listened on, with the port that was given where any was wanted; null while nothing is.</summary>
    public Uri? Address { get; private set; }

    /// <summary>Serves until cancelled. An address that cannot be listened on is said once and tried again: cuts are recorded all the same.</summary>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        for (var isFirst = true; ; isFirst = false)
        {
            await using var app = Build();
            try
            {
                await app.StartAsync(cancellation);
            }
            catch (Exception e) when (e is IOException or System.Net.Sockets.SocketException)
            {
                if (isFirst)
                    ApiLog.CannotListen(_logger, _options.Listen.ToString(), e.Message, ListenRetry.TotalSeconds);
                await Task.Delay(ListenRetry, _time, cancellation);
                continue;
            }

            Address = new Uri(app.Urls.First());
            ApiLog.Listening(_logger, Address.ToString(), _options.Public.ToString());
            try
            {
                await Task.Delay(Timeout.InfiniteTimeSpan, cancellation);
            }
            finally
            {
                Address = null;
                using var patience = new CancellationTokenSource(LastRequests);
                await app.StopAsync(patience.Token);
            }
        }
    }

    private WebApplication Build()
    {
        // The empty builder: nothing of it comes from files or variables beside the configuration.
        var builder = WebApplication.CreateEmptyBuilder(new WebApplicationOptions { ApplicationName = "sawedge" });
        builder.WebHost.UseKestrelCore().UseUrls(_options.Listen.GetLeftPart(UriPartial.Authority)).ConfigureKestrel(Limit);
        builder.Services.AddRoutingCore();
        builder.Services.AddSingleton(_loggers);
        builder.Services.AddSingleton<IHostLifetime, NoLifetime>();
        builder.Services.AddRateLimiter(limiter =>
        {
            limiter.RejectionStatusCode = StatusCodes.Status429TooManyRequests;
            limiter.OnRejected = (rejected, _) =>
            {
                rejected.HttpContext.Response.Headers.RetryAfter = "60";
                return ValueTask.CompletedTask;
            };
            limiter.GlobalLimiter = PartitionedRateLimiter.Create<HttpContext, string>(context => RateLimitPartition.GetFixedWindowLimiter(
                context.Connection.RemoteIpAddress?.ToString() ?? "",
                _ => new FixedWindowRateLimiterOptions { PermitLimit = MostInAMinute, Window = TimeSpan.FromMinutes(1) }));
        });

        var app = builder.Build();
        app.Use((context, next) =>
        {
            Harden(context.Response.Headers);
            return next(context);
        });

        // Whether or not what stands before it takes the path of the public address away.
        if (_options.Public.AbsolutePath.TrimEnd('/') is { Length: > 0 } path)
            app.UsePathBase(path);
        app.UseRouting();
        app.UseRateLimiter();
        app.MapMethods("/answer/{token}", [HttpMethods.Get, HttpMethods.Head], (HttpContext context) => _answers.ShowAsync(context, Token(context)));
        app.MapPost("/answer/{token}", (HttpContext context) => _answers.DoAsync(context, Token(context)));
        return app;
    }

    private static string Token(HttpContext context) => Convert.ToString(context.Request.RouteValues["token"], CultureInfo.InvariantCulture) ?? "";

    private static void Harden(IHeaderDictionary headers)
    {
        headers.ContentSecurityPolicy = AnswerPage.ContentSecurityPolicy;
        headers.XContentTypeOptions = "nosniff";
        headers.CacheControl = "no-store";
        headers["Referrer-Policy"] = "no-referrer";
        headers["X-Robots-Tag"] = "noindex";
    }

    private static void Limit(KestrelServerOptions kestrel)
    {
        kestrel.AddServerHeader = false;
        var limits = kestrel.Limits;
        limits.MaxConcurrentConnections = MostConnections;
        limits.MaxRequestBodySize = LargestBody;
        limits.MaxRequestLineSize = 4096;
        limits.MaxRequestHeadersTotalSize = 16 * 1024;
        limits.MaxRequestBufferSize = 32 * 1024;
        limits.RequestHeadersTimeout = TimeSpan.FromSeconds(10);
        limits.KeepAliveTimeout = TimeSpan.FromSeconds(30);
    }

    // The gateway's own process is ended by its own host.
    private sealed class NoLifetime : IHostLifetime
    {
        public Task WaitForStartAsync(CancellationToken cancellationToken) => Task.CompletedTask;

        public Task StopAsync(CancellationToken cancellationToken) => Task.CompletedTask;
    }
}
