using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>Declares what the gateway tells of itself to others.</summary>
internal static class TelemetryBinding
{
    private static readonly ObjectType<OtlpOptions> Otlp = new("otlp", "A receiver of traces and metrics by OTLP. That it is away holds up nothing.", BindOtlp);

    /// <summary>The settings.</summary>
    public static ObjectType<TelemetryOptions> Type { get; } = new("telemetry", "What the gateway tells of itself to others, besides /metrics.", o => new TelemetryOptions
    {
        Otlp = o.Optional("otlp", Otlp, "Where traces and metrics go by OTLP (OpenTelemetry). Left out: nowhere."),
    });

    private static OtlpOptions BindOtlp(ConfigObject o)
    {
        var endpoint = o.Required("endpoint", ValueTypes.Url, "Base address of the receiver, for example \"http://127.0.0.1:4318\"; for grpc commonly port 4317. The paths /v1/metrics and /v1/traces are put behind it where HTTP is spoken.");
        var grpc = o.Default("protocol", new ChoiceType<bool>(("http/protobuf", false, "HTTP with protobuf."), ("grpc", true, "gRPC.")), "http/protobuf", "What is spoken.");
        var headers = o.Secret("headers", "Headers of each request, for example \"Authorization=Bearer ...\"; several parted by commas, values percent-encoded.");
        var every = o.Default("every", ValueTypes.Time("1 s", "1 h"), "30 s", "Time between two reports of the metrics.");
        var timeout = o.Default("timeout", ValueTypes.Time("100 ms", "1 min"), "5 s", "How long to wait for the receiver's answer.");
        var metrics = o.Default("metrics", ValueTypes.Flag, "true", "Whether metrics are sent.");
        var traces = o.Default("traces", ValueTypes.Flag, "true", "Whether traces are sent.");

        if (endpoint is { IsGood: true, Value: { } address } && (address.AbsolutePath.EndsWith("/v1/metrics", StringComparison.Ordinal) || address.AbsolutePath.EndsWith("/v1/traces", StringComparison.Ordinal)))
            o.Error(endpoint, "ends with the path of metrics or traces alone; leave it out, it is put behind by itself");
        if (metrics is { IsGood: true, Value: false } && traces is { IsGood: true, Value: false })
            o.ErrorAt("", "sends neither metrics nor traces; switch one of them on, or leave \"otlp\" out");
        if (headers is { IsGood: true, Value: { } written } && written.Split(',').Any(header => header.IndexOf('=', StringComparison.Ordinal) < 1))
            o.Error(headers, "is no list of headers; write name=value, several parted by commas");
        if (headers.IsStated && endpoint.IsGood && endpoint.Value is { Scheme: "http", IsLoopback: false })
            o.Warning(endpoint, "the headers cross the network in the clear; write https:// where the receiver offers it");
        return new OtlpOptions { Endpoint = endpoint, Grpc = grpc, Headers = headers, Every = every, Timeout = timeout, Metrics = metrics, Traces = traces };
    }
}
