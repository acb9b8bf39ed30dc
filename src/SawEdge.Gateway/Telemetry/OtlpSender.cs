using System.Diagnostics;
using System.Diagnostics.Metrics;
using Microsoft.Extensions.Logging;
using OpenTelemetry;
using OpenTelemetry.Exporter;
using OpenTelemetry.Metrics;
using OpenTelemetry.Resources;
using OpenTelemetry.Trace;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Telemetry;

/// <summary>Sends traces and metrics by OTLP, where a receiver is configured. What it does not get is lost: it is no history.</summary>
internal sealed class OtlpSender : IDisposable
{
    private readonly OtlpOptions _options;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly List<IDisposable> _parts = [];
    private readonly BaseExportingMetricReader? _metrics;
    private ILookup<MetricInfo, Metric> _figures = Enumerable.Empty<Metric>().ToLookup(metric => metric.Info);
    private bool _isUnread;

    /// <summary>Begins to listen for traces; metrics are sent by <see cref="RunAsync"/>.</summary>
    /// <param name="options">The receiver.</param>
    /// <param name="site">Name of the plant.</param>
    /// <param name="gateway">Name of the gateway.</param>
    /// <param name="version">The program's version.</param>
    /// <param name="meters">Names of further meters that are sent.</param>
    /// <param name="time">The wall clock.</param>
    /// <param name="logger">Where it speaks.</param>
    public OtlpSender(OtlpOptions options, string site, string gateway, string version, IEnumerable<string> meters, TimeProvider time, ILogger logger)
    {
        (_options, _time, _logger) = (options, time, logger);
        var resource = ResourceBuilder.CreateEmpty().AddService("sawedge", serviceNamespace: site, serviceVersion: version, autoGenerateServiceInstanceId: false, serviceInstanceId: gateway);
        if (options.Traces)
        {
            var way = new OtlpWay(options, "traces", time, logger);
            _parts.Add(Sdk.CreateTracerProviderBuilder().SetResourceBuilder(resource).AddSource(Spans.Name)
                .AddProcessor(new BatchActivityExportProcessor(new TraceExporter(way), scheduledDelayMilliseconds: 5000, exporterTimeoutMilliseconds: (int)options.Timeout.TotalMilliseconds)).Build());
            _parts.Add(way);
        }

        if (options.Metrics)
        {
            var way = new OtlpWay(options, "metrics", time, logger);
            var meter = new Meter(Spans.Name, version);
            foreach (var info in KnownMetrics.All)
                Observe(meter, info);
            _metrics = new BaseExportingMetricReader(new MetricExporter(way));
            _parts.Add(Sdk.CreateMeterProviderBuilder().SetResourceBuilder(resource).AddMeter([Spans.Name, .. meters]).AddReader(_metrics).Build());
            _parts.AddRange([meter, way]);
        }

        TelemetryLog.Started(logger, options is { Traces: true, Metrics: true } ? "traces and metrics" : options.Traces ? "traces" : "metrics", options.Endpoint.GetComponents(UriComponents.SchemeAndServer, UriFormat.UriEscaped));
    }

    /// <summary>Sends metrics until cancelled.</summary>
    /// <param name="read">Reads the figures as they are; null: they cannot be read at the moment, with the reason said.</param>
    /// <param name="cancellation">Ends it.</param>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    public async Task RunAsync(Func<CancellationToken, Task<(IReadOnlyList<Metric>? Figures, string Trouble)>> read, CancellationToken cancellation)
    {
        using var timer = new PeriodicTimer(_options.Every, _time);
        do
        {
            if (_metrics is null)
                continue;
            var (figures, trouble) = await read(cancellation);
            if (figures is null && !_isUnread)
                TelemetryLog.Unread(_logger, trouble);
            _isUnread = figures is null;
            if (figures is null)
                continue;
            Volatile.Write(ref _figures, figures.ToLookup(metric => metric.Info));

            // The library sends on the thread that asks.
            await Task.Run(() => _metrics.Collect((int)_options.Timeout.TotalMilliseconds), cancellation);
        }
        while (await timer.WaitForNextTickAsync(cancellation));
    }

    /// <summary>Sends what is there, with a little patience, and ends.</summary>
    public void Dispose() => _parts.ForEach(part => part.Dispose());

    private void Observe(Meter meter, MetricInfo info)
    {
        IEnumerable<Measurement<double>> Read() => Volatile.Read(ref _figures)[info]
            .Where(metric => !double.IsNaN(metric.Value))
            .Select(metric => new Measurement<double>(metric.Value, metric.Labels.Select(label => new KeyValuePair<string, object?>(label.Name, label.Value))));
        if (info.IsCounter)
            meter.CreateObservableCounter(info.OtlpName, Read, info.Unit, info.Help);
        else
            meter.CreateObservableGauge(info.OtlpName, Read, info.Unit, info.Help);
    }

    private sealed class TraceExporter(OtlpWay way) : OtlpTraceExporter(way.Exporter("/v1/traces"))
    {
        public override ExportResult Export(in Batch<Activity> activityBatch)
        {
            var result = base.Export(activityBatch);
            way.Came(result);
            return result;
        }
    }

    private sealed class MetricExporter(OtlpWay way) : OtlpMetricExporter(way.Exporter("/v1/metrics"))
    {
        public override ExportResult Export(in Batch<OpenTelemetry.Metrics.Metric> metrics)
        {
            var result = base.Export(metrics);
            way.Came(result);
            return result;
        }
    }
}
