using System.Globalization;
using System.Text;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Telemetry;

namespace SawEdge.Gateway.Api;

/// <summary>For those who watch the gateway: whether it lives, whether it is ready, and its figures in the Prometheus text format (version 0.0.4).</summary>
internal static class GatewayRoutes
{
    private const string Text = "text/plain; charset=utf-8";
    private const string MetricsText = "text/plain; version=0.0.4; charset=utf-8";

    /// <summary>Maps them.</summary>
    public static void Map(IEndpointRouteBuilder routes, ApiContext context)
    {
        string[] methods = [HttpMethods.Get, HttpMethods.Head];
        routes.MapMethods("/health/live", methods, (HttpContext http) => context.Hanging() is { } hanging
            ? SayAsync(http, StatusCodes.Status503ServiceUnavailable, Text, $"{hanging} hangs\n")
            : SayAsync(http, StatusCodes.Status200OK, Text, context.Standby() is { } standby ? $"alive: {standby}\n" : "alive\n"));
        routes.MapMethods("/health/ready", methods, (HttpContext http) => ReadyAsync(http, context));
        routes.MapMethods("/metrics", methods, (HttpContext http) => MeasureAsync(http, context)).Needs(ApiRole.View);
    }

    /// <summary>Figures as text: those of one name together, with what they are.</summary>
    public static string Write(IEnumerable<Metric> metrics)
    {
        var text = new StringBuilder();
        foreach (var family in metrics.GroupBy(metric => metric.Name, StringComparer.Ordinal))
        {
            var first = family.First().Info;
            text.Append(CultureInfo.InvariantCulture, $"# HELP {first.Name} {Escaped(first.Help, quotes: false)}\n# TYPE {first.Name} {(first.IsCounter ? "counter" : "gauge")}\n");
            foreach (var metric in family.Where(metric => !double.IsNaN(metric.Value)))
            {
                var labels = string.Join(',', metric.Labels.Select(label => $"{label.Name}=\"{Escaped(label.Value, quotes: true)}\""));
                text.Append(CultureInfo.InvariantCulture, $"{metric.Name}{(labels.Length == 0 ? "" : $"{{{labels}}}")} {metric.Value:R}\n");
            }
        }

        return text.ToString();
    }

    /// <summary>All figures of a gateway as they are now.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public static async Task<IReadOnlyList<Metric>> MeasureAsync(ApiContext context, CancellationToken cancellation)
    {
        var journal = await context.Reader.LastSequenceAsync(cancellation);
        var open = new int[Enum.GetValues<AlarmSeverity>().Length];
        await foreach (var alarm in context.Reader.AlarmsAsync(new AlarmFilter { OnlyOpen = true }, cancellation))
            open[(int)alarm.Severity]++;
        return
        [
            .. context.Metrics(journal),
            .. Enum.GetValues<AlarmSeverity>().Select(severity => new Metric(KnownMetrics.AlarmsOpen, open[(int)severity], severity.ToName())),
            new(KnownMetrics.HttpRequests, context.Meters.Requests),
            new(KnownMetrics.HttpFailures, context.Meters.Failed),
            new(KnownMetrics.HttpReaders, context.Meters.Readers),
            new(KnownMetrics.HttpExports, context.Meters.Exports),
        ];
    }

    private static async Task MeasureAsync(HttpContext http, ApiContext context) =>
        await SayAsync(http, StatusCodes.Status200OK, MetricsText, Write(await MeasureAsync(context, http.RequestAborted)));

    private static string Escaped(string text, bool quotes)
    {
        var escaped = text.Replace("\\", "\\\\", StringComparison.Ordinal).Replace("\n", "\\n", StringComparison.Ordinal);
        return quotes ? escaped.Replace("\"", "\\\"", StringComparison.Ordinal) : escaped;
    }

    private static async Task ReadyAsync(HttpContext http, ApiContext context)
    {
        var isReady = !context.Writer.InTrouble;
        try
        {
            await context.Reader.LastSequenceAsync(http.RequestAborted);
        }
        catch (HistoryException)
        {
            // The gateway's own alarms and log say why; whoever asks here wants a yes or no.
            isReady = false;
        }

        await SayAsync(http, isReady ? StatusCodes.Status200OK : StatusCodes.Status503ServiceUnavailable, Text, isReady ? context.Standby() is { } standby ? $"ready: {standby}\n" : "ready\n" : "not ready\n");
    }

    private static async Task SayAsync(HttpContext http, int status, string type, string words)
    {
        http.Response.StatusCode = status;
        http.Response.ContentType = type;
        http.Response.Headers.CacheControl = "no-store";
        if (!HttpMethods.IsHead(http.Request.Method))
            await http.Response.WriteAsync(words, http.RequestAborted);
    }
}
