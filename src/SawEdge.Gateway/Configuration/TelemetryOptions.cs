using System.Globalization;
using System.Text;
using System.Text.Json.Serialization;

namespace SawEdge.Gateway.Configuration;

/// <summary>What the gateway tells of itself to others, besides <c>/metrics</c>.</summary>
public sealed record TelemetryOptions
{
    /// <summary>Where traces and metrics go by OTLP, or null: nowhere.</summary>
    public OtlpOptions? Otlp { get; init; }
}

/// <summary>A receiver of traces and metrics by OTLP.</summary>
public sealed record OtlpOptions
{
    /// <summary>Base address of the receiver.</summary>
    public required Uri Endpoint { get; init; }

    /// <summary>Whether gRPC is spoken; otherwise HTTP with protobuf.</summary>
    public bool Grpc { get; init; }

    /// <summary>Headers of each request as <c>name=value</c>, parted by commas, or null. Never logged, printed or serialized.</summary>
    [JsonIgnore]
    public string? Headers { get; init; }

    /// <summary>Time between two reports of the metrics.</summary>
    public TimeSpan Every { get; init; } = TimeSpan.FromSeconds(30);

    /// <summary>How long to wait for the receiver's answer.</summary>
    public TimeSpan Timeout { get; init; } = TimeSpan.FromSeconds(5);

    /// <summary>Whether metrics are sent.</summary>
    public bool Metrics { get; init; } = true;

    /// <summary>Whether traces are sent.</summary>
    public bool Traces { get; init; } = true;

    // Takes the place of the compiler's, which would print the secrets.
    private bool PrintMembers(StringBuilder builder)
    {
        builder.Append(CultureInfo.InvariantCulture, $"Endpoint = {Endpoint.GetComponents(UriComponents.SchemeAndServer, UriFormat.UriEscaped)}, Grpc = {Grpc}, Headers = {(Headers is null ? "none" : "set")}, Every = {Every}, Timeout = {Timeout}, Metrics = {Metrics}, Traces = {Traces}");
        return true;
    }
}
