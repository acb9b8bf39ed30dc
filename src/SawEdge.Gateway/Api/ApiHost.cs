using System.Net;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Server.Kestrel.Core;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Api;

/// <summary>
/// Serves people over HTTP: the page, the API, and what is behind the links in messages. No cookies, nothing loaded from elsewhere, small
/// requests only, and not too many of them.
/// </summary>
public sealed class ApiHost
{
    /// <summary>The largest body that is read, bytes.</summary>
    public const int LargestBody = 16 * 1024;

    // A page holds its event stream open, and a few more connections while it loads.
    private const int MostConnections = 8192;
    private const int MostLinkConnections = 100;

    private static readonly TimeSpan ListenRetry = TimeSpan.FromSeconds(10);
    private static readonly TimeSpan LastRequests = TimeSpan.FromSeconds(2);

    private readonly HttpOptions _options;
    private readonly string _setting;
    private readonly IReadOnlyList<Uri> _outside;
    private readonly ApiContext? _context;
    private readonly AnswerEndpoint? _answers;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;

    private ApiHost(HttpOptions options, string setting, ApiContext? context, AnswerEndpoint? answers, IReadOnlyList<Uri> outside, TimeProvider time, ILoggerFactory loggers)
    {
        _options = options;
        _setting = setting;
        _outside = outside;
        _context = context;
        _answers = answers;
        _time = time;
        _logger = loggers.CreateLogger<ApiHost>();
    }

    /// <summary>The address that is listened on, with the port that was given where any was wanted; null while nothing is.</summary>
    public Uri? Address { get; private set; }

    /// <summary>The hosts that a configuration asks for: one for page and API, and where the links have an address of their own, one for them.</summary>
    /// <param name="context">What the endpoints work with.</param>
    /// <param name="signer">Tells this gateway's links from others; null: there are none.</param>
    public static IReadOnlyList<ApiHost> Build(ApiContext context, LinkSigner? signer)
    {
        var (http, links) = (context.Options.Http, signer is null ? null : context.Options.Alarms.AnswerLinks);
        var hasOwn = links?.Listen is { } own && (http is null || own != http.Listen);
        var hosts = new List<ApiHost>();
        if (http is not null)
            hosts.Add(ForAll(http, context, hasOwn ? null : links, signer));
        if (links is not null && hasOwn)
            hosts.Add(ForLinks(links, context.Options.Site, context.Options.TimeZone, signer!, context.Reader, context.Writer, context.Time, context.Loggers));
        return hosts;
    }

    /// <summary>A host for the links in messages alone.</summary>
    /// <param name="options">Where it listens, and how people reach it.</param>
    /// <param name="site">Name of the plant.</param>
    /// <param name="zone">The plant's time zone.</param>
    /// <param name="signer">Tells this gateway's links from others.</param>
    /// <param name="reader">The alarms.</param>
    /// <param name="writer">Where answers go.</param>
    /// <param name="time">The wall clock.</param>
    /// <param name="loggers">Where it speaks.</param>
    public static ApiHost ForLinks(AnswerLinkOptions options, string site, TimeZoneInfo zone, LinkSigner signer, HistoryReader reader, HistoryWriter writer, TimeProvider time, ILoggerFactory loggers)
    {
        var answers = new AnswerEndpoint(signer, new AnswerPage(site, zone), reader, writer, time, loggers.CreateLogger<ApiHost>());
        return new ApiHost(new HttpOptions { Listen = options.Listen!, Public = options.Public }, "alarms.answerLinks.listen", null, answers, [options.Public], time, loggers);
    }

    /// <summary>Serves until cancelled. An address that cannot be listened on is said once and tried again: cuts are recorded all the same.</summary>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        for (var isFirst = true; ; isFirst = false)
        {
            try
            {
                using var gate = _context is null ? null : new ApiGate(_options, _outside, _context.Reader, _time, _logger);
                await using var app = Build(gate);
                await app.StartAsync(cancellation);
                await ServeAsync(app, cancellation);
            }
            catch (Exception e) when (e is IOException or System.Net.Sockets.SocketException)
            {
                if (isFirst)
                    ApiLog.CannotListen(_logger, _options.Listen.ToString(), e.Message, ListenRetry.TotalSeconds, _setting);
                await Task.Delay(ListenRetry, _time, cancellation);
            }
        }
    }

    private static ApiHost ForAll(HttpOptions http, ApiContext context, AnswerLinkOptions? links, LinkSigner? signer)
    {
        var answers = links is null ? null : new AnswerEndpoint(signer!, new AnswerPage(context.Options.Site, context.Options.TimeZone), context.Reader, context.Writer, context.Time, context.Loggers.CreateLogger<ApiHost>());
        return new ApiHost(http, "http.listen", context, answers, [.. new[] { http.Public, links?.Public }.OfType<Uri>()], context.Time, context.Loggers);
    }

    private async Task ServeAsync(WebApplication app, CancellationToken cancellation)
    {
        Address = new Uri(app.Urls.First());
        ApiLog.Listening(_logger, Address.ToString(), _outside.Count == 0 ? Address.ToString() : string.Join(" and ", _outside));
        var compressing = _context is null ? Task.CompletedTask : PageFiles.CompressAsync(cancellation);
        var tracing = _context is null ? Task.CompletedTask : _context.Traces.RunAsync(cancellation);
        try
        {
            // It ends when it is cancelled; whatever else ends it must not be silent.
            await tracing;
            await Task.Delay(Timeout.InfiniteTimeSpan, cancellation);
        }
        finally
        {
            Address = null;
            await compressing.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            using var patience = new CancellationTokenSource(LastRequests);
            await app.StopAsync(patience.Token);
        }
    }

    private WebApplication Build(ApiGate? gate)
    {
        // The empty builder: nothing of it comes from files or variables beside the configuration.
        var builder = WebApplication.CreateEmptyBuilder(new WebApplicationOptions { ApplicationName = "sawedge" });
        builder.WebHost.UseKestrelCore().ConfigureKestrel(Configure);
        builder.Services.AddRoutingCore();

        // The framework would say an address in use again at each try; what matters of it is said here.
        builder.Services.AddSingleton<ILoggerFactory>(NullLoggerFactory.Instance);
        builder.Services.AddSingleton<IHostLifetime, NoLifetime>();
        builder.Services.AddRateLimiter(RequestLimits.Set);
        builder.Services.AddResponseCompression();

        var app = builder.Build();
        var rules = new RequestRules(_context?.Meters, _logger);
        app.Use(rules.WatchAsync);

        // Whether or not what stands before it takes the path of the public address away.
        foreach (var path in _outside.Select(address => address.AbsolutePath.TrimEnd('/')).Where(path => path.Length > 0).Distinct())
            app.UsePathBase(path);
        app.UseRouting();
        app.UseRateLimiter();
        app.UseWhen(context => context.Request.Path.StartsWithSegments("/api"), api => api.UseResponseCompression());
        if (gate is not null)
            app.Use((context, next) => gate.PassAsync(context, next));
        if (_answers is not null)
            AnswerRoutes.Map(app, _answers);
        if (_context is null)
            return app;
        GatewayRoutes.Map(app, _context);
        PageRoutes.Map(app);
        var api = app.MapGroup(ApiRoutes.Prefix).Needs(ApiRole.View);
        ApiRoutes.Map(api, _context);
        OpenApiDocument.Map(api, app);
        return app;
    }

    private void Configure(KestrelServerOptions kestrel)
    {
        kestrel.AddServerHeader = false;
        var limits = kestrel.Limits;
        limits.MaxConcurrentConnections = _context is null ? MostLinkConnections : MostConnections;
        limits.MaxRequestBodySize = LargestBody;
        limits.MaxRequestLineSize = 4096;
        limits.MaxRequestHeadersTotalSize = 16 * 1024;
        limits.MaxRequestBufferSize = 32 * 1024;
        limits.RequestHeadersTimeout = TimeSpan.FromSeconds(10);
        limits.KeepAliveTimeout = TimeSpan.FromSeconds(30);

        var certificate = _options.CertificateFile is { } file ? new ServerCertificate(file, _options.KeyFile, _time, _logger) : null;
        void Secure(ListenOptions listen)
        {
            if (certificate is not null)
                listen.UseHttps(certificate.Options);
        }

        if (IPAddress.TryParse(_options.Listen.Host.Trim('[', ']'), out var address))
            kestrel.Listen(address, _options.Listen.Port, Secure);
        else
            kestrel.ListenLocalhost(_options.Listen.Port, Secure);
    }

    // The gateway's own process is ended by its own host.
    private sealed class NoLifetime : IHostLifetime
    {
        public Task WaitForStartAsync(CancellationToken cancellationToken) => Task.CompletedTask;

        public Task StopAsync(CancellationToken cancellationToken) => Task.CompletedTask;
    }
}
