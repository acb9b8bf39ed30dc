using System.Diagnostics;
using System.Net;
using System.Net.Sockets;
using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Telemetry;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Telemetry;

/// <summary>Traces and metrics on their way to a real receiver. Alone, because a listener hears the spans of every gateway in the process.</summary>
[Collection(nameof(Tracing))]
public sealed class OtlpSenderTests
{
    private const int Fails = 9501;
    private const int Works = 9502;
    private const int Unread = 9503;

    private static readonly IReadOnlyList<Metric> Figures = [new(KnownMetrics.Frames, 42, "north"), new(KnownMetrics.FramesWaiting, 3, "north"), new(KnownMetrics.DeliveryLag, double.NaN, "influx", "plant")];

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task Metrics_AreReceived_WithWhatTheyAreAbout_TheGatewayAndTheHeaders(bool grpc)
    {
        await using var receiver = await OtlpReceiver.StartAsync(grpc);
        var log = new CollectedLog();
        await RunAsync(receiver.Url, log, grpc, async () => await Until.TrueAsync(() => receiver.Values.Count >= 2, () => string.Join('\n', log.Entries)), "x-key=planted%20secret");

        var frames = receiver.Values.First(value => value.Name == "sawedge.frames");
        Assert.Equal(("{frame}", "counter", 42.0, "north"), (frames.Unit, frames.Kind, frames.Value, Assert.Single(frames.Attributes).Value));
        var waiting = receiver.Values.First(value => value.Name == "sawedge.frames_waiting");
        Assert.Equal(("gauge", 3.0), (waiting.Kind, waiting.Value));

        // What is not known is not sent.
        Assert.DoesNotContain(receiver.Values, value => value.Name == "sawedge.delivery_lag");
        Assert.Equal(("sawedge", "Riverbend", "hall-2", "1.2.3"), (receiver.Resource["service.name"], receiver.Resource["service.namespace"], receiver.Resource["service.instance.id"], receiver.Resource["service.version"]));
        Assert.Equal("planted secret", receiver.Headers["x-key"]);
        Assert.DoesNotContain(log.Entries, entry => entry.Text.Contains("planted", StringComparison.Ordinal) || entry.Level > LogLevel.Information);
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task Spans_AreReceived_APartBelowWhatItIsPartOf_AFailureWithItsReason(bool grpc)
    {
        await using var receiver = await OtlpReceiver.StartAsync(grpc);
        await RunAsync(receiver.Url, new CollectedLog(), grpc, () =>
        {
            using (var whole = Spans.Root("whole"))
            {
                using var part = Spans.Part("part");
                part!.SetTag("sawedge.saw", "north");
            }

            // Begun where another is still open: it does not belong to it.
            using var open = Spans.Root("open");
            using (var other = Spans.Root("other", ActivityKind.Client, DateTimeOffset.UtcNow.AddSeconds(-3)))
                other.Failed("no");
            return Task.CompletedTask;
        });

        // What was not sent yet when the gateway ends is sent then.
        var spans = receiver.Spans.ToDictionary(span => span.Name);
        Assert.Equal(["open", "other", "part", "whole"], spans.Keys.Order(StringComparer.Ordinal));
        Assert.Equal((spans["whole"].Trace, spans["whole"].Id, "north"), (spans["part"].Trace, spans["part"].Parent, spans["part"].Attributes["sawedge.saw"]));
        Assert.Equal(("", 2L, "no"), (spans["other"].Parent, spans["other"].Status, spans["other"].Words));
        Assert.NotEqual(spans["open"].Trace, spans["other"].Trace);
        Assert.InRange(spans["other"].Seconds, 3, 30);
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task ReceiverAway_IsSaidOnceEach_AndOnceWhenItIsBack(bool grpc)
    {
        var port = Peer.FreePort();
        var (log, rounds) = (new CollectedLog(), 0);
        OtlpReceiver? receiver = null;
        await RunAsync(
            new Uri($"http://127.0.0.1:{port}"),
            log,
            grpc,
            async () =>
            {
                await Until.TrueAsync(() => Volatile.Read(ref rounds) > 3, "it was tried a few times");
                Assert.Equal(1, log.Count(Fails));
                receiver = await OtlpReceiver.StartAsync(grpc, port);
                await Until.TrueAsync(() => log.Count(Works) == 1, () => string.Join('\n', log.Entries));
                Assert.NotEmpty(receiver.Values);
            },
            onRead: () => Interlocked.Increment(ref rounds));
        await receiver!.DisposeAsync();

        var said = Assert.Single(log.Entries, entry => entry.Id == Fails);
        Assert.Matches(@"^OTLP: http://127\.0\.0\.1:\d+ does not take metrics: .*refused.*\. What is told meanwhile is lost; nothing else is held up$", said.Text);
        Assert.Equal(LogLevel.Warning, said.Level);
    }

    [Fact]
    public async Task ReceiverThatRefuses_IsSaidWithItsStatus()
    {
        await using var receiver = await OtlpReceiver.StartAsync();
        receiver.Answer = 401;
        var log = new CollectedLog();
        await RunAsync(receiver.Url, log, grpc: false, () => Until.TrueAsync(() => receiver.Requests > 3, "it was tried a few times"));
        Assert.Contains("does not take metrics: status 401.", Assert.Single(log.Entries, entry => entry.Id == Fails).Text, StringComparison.Ordinal);
    }

    /// <summary>Whoever takes the connection and never answers must not hold up the end either.</summary>
    [Fact]
    public async Task ReceiverThatNeverAnswers_IsSaid_AndTheEndComesAllTheSame()
    {
        using var silent = new TcpListener(IPAddress.Loopback, 0);
        silent.Start();
        var log = new CollectedLog();
        var options = new OtlpOptions { Endpoint = new Uri($"http://{silent.LocalEndpoint}"), Every = TimeSpan.FromMilliseconds(50), Timeout = TimeSpan.FromMilliseconds(200) };
        var ended = Task.Run(async () =>
        {
            using var sender = new OtlpSender(options, "Riverbend", "hall-2", "1.2.3", [], TimeProvider.System, log.For<OtlpSender>());
            using var stop = new CancellationTokenSource();
            Spans.Root("whole")!.Dispose();
            var run = sender.RunAsync(_ => Task.FromResult<(IReadOnlyList<Metric>?, string)>((Figures, "")), stop.Token);
            await Until.TrueAsync(() => log.Count(Fails) > 0, "it is said");
            await stop.CancelAsync();
            await Assert.ThrowsAnyAsync<OperationCanceledException>(() => run);
        });
        await Until.TrueAsync(() => ended.IsCompleted, "it ends");
        await ended;
        Assert.Contains("does not take metrics: no answer in time.", log.Entries.First(entry => entry.Id == Fails).Text, StringComparison.Ordinal);
        Assert.InRange(log.Count(Fails), 1, 2);
    }

    [Fact]
    public async Task FiguresThatCannotBeRead_AreSaidOnce()
    {
        await using var receiver = await OtlpReceiver.StartAsync();
        var (log, rounds) = (new CollectedLog(), 0);
        using (var sender = Sender(receiver.Url, log, grpc: false, null))
        {
            using var stop = new CancellationTokenSource();
            var run = sender.RunAsync(_ => Task.FromResult<(IReadOnlyList<Metric>?, string)>(Interlocked.Increment(ref rounds) < 4 ? (null, "the disk refuses") : (Figures, "")), stop.Token);
            await Until.TrueAsync(() => receiver.Values.Count > 0, "they can be read again");
            await stop.CancelAsync();
            await Assert.ThrowsAnyAsync<OperationCanceledException>(() => run);
        }

        Assert.Equal("OTLP: the figures cannot be read at the moment: the disk refuses", Assert.Single(log.Entries, entry => entry.Id == Unread).Text);
    }

    [Fact]
    public void Spans_WhereNobodyListens_AllocateNothing()
    {
        static void Do()
        {
            using var span = Spans.Root("cycle");
            span?.SetTag("sawedge.saw", "north");
            using var part = Spans.Part("restore");
            span.Failed("no");
        }

        Assert.Equal(0, Allocations.Of(Do));
    }

    private static OtlpSender Sender(Uri url, CollectedLog log, bool grpc, string? headers) =>
        new(new OtlpOptions { Endpoint = url, Grpc = grpc, Headers = headers, Every = TimeSpan.FromMilliseconds(50) }, "Riverbend", "hall-2", "1.2.3", [], TimeProvider.System, log.For<OtlpSender>());

    private static async Task RunAsync(Uri url, CollectedLog log, bool grpc, Func<Task> meanwhile, string? headers = null, Action? onRead = null)
    {
        using var sender = Sender(url, log, grpc, headers);
        using var stop = new CancellationTokenSource();
        var run = sender.RunAsync(
            _ =>
            {
                onRead?.Invoke();
                return Task.FromResult<(IReadOnlyList<Metric>?, string)>((Figures, ""));
            },
            stop.Token);
        await meanwhile();
        await stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => run);
    }
}

/// <summary>Tests that listen for spans, alone in the process.</summary>
[CollectionDefinition(nameof(Tracing), DisableParallelization = true)]
public sealed class Tracing;
