using System.Buffers.Binary;
using System.Collections.Concurrent;
using System.Net;
using System.Text;
using Google.Protobuf;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Server.Kestrel.Core;
using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Tests.Telemetry;

/// <summary>One value that was received.</summary>
/// <param name="Name">Name of the metric.</param>
/// <param name="Unit">Its unit.</param>
/// <param name="Kind">gauge, counter or histogram.</param>
/// <param name="Value">The value; of a histogram how many were counted.</param>
/// <param name="Attributes">What it is about.</param>
internal sealed record ReceivedValue(string Name, string Unit, string Kind, double Value, IReadOnlyDictionary<string, string> Attributes);

/// <summary>One span that was received.</summary>
internal sealed record ReceivedSpan(string Name, string Trace, string Id, string Parent, double Seconds, long Status, string Words, IReadOnlyDictionary<string, string> Attributes, IReadOnlyList<string> Events);

/// <summary>
/// A receiver of OTLP, over HTTP or gRPC, on a real server. Takes the messages apart by the field numbers of the protocol itself
/// (github.com/open-telemetry/opentelemetry-proto, trace.proto, metrics.proto, common.proto and resource.proto of version 1) with the reader of Google's
/// own library, and knows nothing of the exporter's package. No collector was to be had from the distribution.
/// </summary>
internal sealed class OtlpReceiver : IAsyncDisposable
{
    private readonly WebApplication _app;
    private readonly ConcurrentQueue<ReceivedValue> _values = new();
    private readonly ConcurrentQueue<ReceivedSpan> _spans = new();
    private int _requests;

    private OtlpReceiver(WebApplication app) => _app = app;

    public Uri Url => new(_app.Urls.First());

    public IReadOnlyList<ReceivedValue> Values => [.. _values];

    public IReadOnlyList<ReceivedSpan> Spans => [.. _spans];

    /// <summary>Attributes of the resource that was named last.</summary>
    public IReadOnlyDictionary<string, string> Resource { get; private set; } = new Dictionary<string, string>();

    /// <summary>Headers of the last request.</summary>
    public IReadOnlyDictionary<string, string> Headers { get; private set; } = new Dictionary<string, string>();

    /// <summary>Requests that came, those refused as well.</summary>
    public int Requests => Volatile.Read(ref _requests);

    /// <summary>The status that is answered.</summary>
    public int Answer { get; set; } = 200;

    public static async Task<OtlpReceiver> StartAsync(bool grpc = false, int port = 0)
    {
        var builder = WebApplication.CreateEmptyBuilder(new WebApplicationOptions());
        builder.WebHost.UseKestrelCore().ConfigureKestrel(kestrel => kestrel.Listen(IPAddress.Loopback, port, listen => listen.Protocols = grpc ? HttpProtocols.Http2 : HttpProtocols.Http1));
        builder.Logging.ClearProviders();
        var app = builder.Build();
        var receiver = new OtlpReceiver(app);
        app.Run(receiver.TakeAsync);
        await app.StartAsync();
        return receiver;
    }

    public async ValueTask DisposeAsync()
    {
        await _app.StopAsync();
        await _app.DisposeAsync();
    }

    private async Task TakeAsync(HttpContext http)
    {
        Interlocked.Increment(ref _requests);
        using var body = new MemoryStream();
        await http.Request.Body.CopyToAsync(body);
        var bytes = body.ToArray();
        Headers = http.Request.Headers.ToDictionary(header => header.Key, header => header.Value.ToString(), StringComparer.OrdinalIgnoreCase);
        if (Answer != 200)
        {
            http.Response.StatusCode = Answer;
            return;
        }

        var (path, type) = (http.Request.Path.Value, http.Request.ContentType);
        var isGrpc = type == "application/grpc";
        if (isGrpc)
        {
            // A byte that says whether it is compressed, and the length (gRPC over HTTP/2, Length-Prefixed-Message).
            Assert.Equal(0, bytes[0]);
            Assert.Equal(bytes.Length - 5, BinaryPrimitives.ReadInt32BigEndian(bytes.AsSpan(1)));
            bytes = bytes[5..];
        }
        else
        {
            Assert.Equal("application/x-protobuf", type);
        }

        if (path is "/v1/metrics" or "/opentelemetry.proto.collector.metrics.v1.MetricsService/Export")
            TakeMetrics(bytes);
        else if (path is "/v1/traces" or "/opentelemetry.proto.collector.trace.v1.TraceService/Export")
            TakeTraces(bytes);
        else
            http.Response.StatusCode = 404;
        http.Response.ContentType = isGrpc ? "application/grpc" : "application/x-protobuf";
        if (!isGrpc)
            return;
        await http.Response.Body.WriteAsync(new byte[5]);
        http.Response.AppendTrailer("grpc-status", "0");
    }

    private void TakeMetrics(byte[] bytes)
    {
        foreach (var resource in Parts(bytes, 1))
        {
            TakeResource(resource);
            foreach (var metric in Parts(resource, 2).SelectMany(scope => Parts(scope, 2)))
            {
                var (name, unit) = (Text(metric, 1), Text(metric, 3));
                foreach (var point in Parts(metric, 5).SelectMany(gauge => Parts(gauge, 1)))
                    _values.Enqueue(new ReceivedValue(name, unit, "gauge", Double(point, 4), Attributes(point, 7)));
                foreach (var sum in Parts(metric, 7))
                {
                    // Cumulative, and only rising.
                    Assert.Equal((2L, 1L), (Number(sum, 2), Number(sum, 3)));
                    foreach (var point in Parts(sum, 1))
                        _values.Enqueue(new ReceivedValue(name, unit, "counter", Has(point, 4) ? Double(point, 4) : Number(point, 6), Attributes(point, 7)));
                }

                foreach (var point in Parts(metric, 9).SelectMany(histogram => Parts(histogram, 1)))
                    _values.Enqueue(new ReceivedValue(name, unit, "histogram", Number(point, 4), Attributes(point, 9)));
            }
        }
    }

    private void TakeTraces(byte[] bytes)
    {
        foreach (var resource in Parts(bytes, 1))
        {
            TakeResource(resource);
            foreach (var span in Parts(resource, 2).SelectMany(scope => Parts(scope, 2)))
            {
                var status = Parts(span, 15).FirstOrDefault() ?? [];
                _spans.Enqueue(new ReceivedSpan(
                    Text(span, 5), Hex(span, 1), Hex(span, 2), Hex(span, 4), (Number(span, 8) - Number(span, 7)) / 1e9, Number(status, 3), Text(status, 2), Attributes(span, 9), [.. Parts(span, 11).Select(happened => Text(happened, 2))]));
            }
        }
    }

    private void TakeResource(byte[] bytes) => Resource = Attributes(Parts(bytes, 1).First(), 1);

    private static Dictionary<string, string> Attributes(byte[] message, int field) => Parts(message, field).ToDictionary(pair => Text(pair, 1), pair =>
    {
        var value = Parts(pair, 2).First();
        return Has(value, 1) ? Text(value, 1) : Number(value, 3).ToString(System.Globalization.CultureInfo.InvariantCulture);
    });

    private static string Text(byte[] message, int field) => Encoding.UTF8.GetString(Parts(message, field).FirstOrDefault() ?? []);

    private static string Hex(byte[] message, int field) => Convert.ToHexString(Parts(message, field).FirstOrDefault() ?? []);

    private static double Double(byte[] message, int field) => BitConverter.Int64BitsToDouble(Number(message, field));

    private static bool Has(byte[] message, int field) => Fields(message).Any(one => one.Field == field);

    private static long Number(byte[] message, int field) => Fields(message).Where(one => one.Field == field).Select(one => one.Number).FirstOrDefault();

    private static IEnumerable<byte[]> Parts(byte[] message, int field) => Fields(message).Where(one => one.Field == field).Select(one => one.Bytes ?? throw new InvalidDataException($"field {field} is no message"));

    private static List<(int Field, byte[]? Bytes, long Number)> Fields(byte[] message)
    {
        var fields = new List<(int, byte[]?, long)>();
        using var input = new CodedInputStream(message);
        while (input.ReadTag() is var tag and not 0)
        {
            var field = WireFormat.GetTagFieldNumber(tag);
            switch (WireFormat.GetTagWireType(tag))
            {
                case WireFormat.WireType.LengthDelimited:
                    fields.Add((field, input.ReadBytes().ToByteArray(), 0));
                    break;
                case WireFormat.WireType.Varint:
                    fields.Add((field, null, input.ReadInt64()));
                    break;
                case WireFormat.WireType.Fixed64:
                    fields.Add((field, null, (long)input.ReadFixed64()));
                    break;
                default:
                    input.SkipLastField();
                    break;
            }
        }

        return fields;
    }
}
