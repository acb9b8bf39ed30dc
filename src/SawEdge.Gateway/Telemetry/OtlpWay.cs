using System.Diagnostics;
using System.Net;
using Microsoft.Extensions.Logging;
using OpenTelemetry;
using OpenTelemetry.Exporter;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Telemetry;

/// <summary>One way to a receiver, that of traces or that of metrics: says once when it is not passable, and once when it is again.</summary>
internal sealed class OtlpWay : IDisposable
{
    private readonly OtlpOptions _options;
    private readonly string _what;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly AnswerWatch _answers;
    private readonly HttpClient _http;
    private long? _since;

    /// <summary>Prepares it; nothing is sent yet.</summary>
    /// <param name="options">The receiver.</param>
    /// <param name="what">What goes there, for messages.</param>
    /// <param name="time">The clock.</param>
    /// <param name="logger">Where it speaks.</param>
    public OtlpWay(OtlpOptions options, string what, TimeProvider time, ILogger logger)
    {
        (_options, _what, _time, _logger) = (options, what, time, logger);
        _answers = new AnswerWatch(new SocketsHttpHandler
        {
            AllowAutoRedirect = false,
            UseCookies = false,
            ConnectTimeout = options.Timeout,
            // Otherwise the request would be a span of its own.
            ActivityHeadersPropagator = null,
            PooledConnectionLifetime = TimeSpan.FromMinutes(5),
        });
        _http = new HttpClient(_answers) { Timeout = options.Timeout };
    }

    // Only host and port: an address may hold a password.
    private string Endpoint => _options.Endpoint.GetComponents(UriComponents.SchemeAndServer, UriFormat.UriEscaped);

    /// <summary>What the exporter needs to know.</summary>
    /// <param name="path">The path behind the base address, where HTTP is spoken.</param>
    public OtlpExporterOptions Exporter(string path) => new()
    {
        Protocol = _options.Grpc ? OtlpExportProtocol.Grpc : OtlpExportProtocol.HttpProtobuf,
        Endpoint = _options.Grpc ? _options.Endpoint : new Uri($"{_options.Endpoint.ToString().TrimEnd('/')}{path}"),
        TimeoutMilliseconds = (int)_options.Timeout.TotalMilliseconds,
        HttpClientFactory = () => _http,
        // Where there are none the library would take those of a variable of its own.
        Headers = _options.Headers ?? "",
    };

    /// <summary>A report was sent, or was not. By one thread at a time.</summary>
    public void Came(ExportResult result)
    {
        if (result == ExportResult.Success)
        {
            if (_since is { } since)
                TelemetryLog.Works(_logger, Endpoint, _what, _time.GetElapsedTime(since));
            _since = null;
        }
        else if (_since is null)
        {
            _since = _time.GetTimestamp();
            TelemetryLog.Fails(_logger, Endpoint, _what, _answers.Last ?? "it was not sent");
        }
    }

    /// <inheritdoc/>
    public void Dispose() => _http.Dispose();

    /// <summary>Remembers why the last request failed: the exporter keeps that to itself.</summary>
    private sealed class AnswerWatch(HttpMessageHandler inner) : DelegatingHandler(inner)
    {
        public string? Last { get; private set; }

        protected override HttpResponseMessage Send(HttpRequestMessage request, CancellationToken cancellationToken)
        {
            try
            {
                return Seen(base.Send(request, cancellationToken));
            }
            catch (Exception e) when (Remember(e))
            {
                throw;
            }
        }

        protected override async Task<HttpResponseMessage> SendAsync(HttpRequestMessage request, CancellationToken cancellationToken)
        {
            try
            {
                return Seen(await base.SendAsync(request, cancellationToken));
            }
            catch (Exception e) when (Remember(e))
            {
                throw;
            }
        }

        private HttpResponseMessage Seen(HttpResponseMessage response)
        {
            var grpc = response.Headers.TryGetValues("grpc-status", out var values) ? values.First() : null;
            Last = response.StatusCode == HttpStatusCode.OK ? grpc is null ? "its answer could not be used" : $"status {grpc} of gRPC" : FormattableString.Invariant($"status {(int)response.StatusCode}");
            return response;
        }

        private bool Remember(Exception error)
        {
            Last = error is OperationCanceledException ? "no answer in time" : error.GetBaseException().Message;
            return true;
        }
    }
}
