using System.Net;
using Microsoft.Extensions.Time.Testing;
using MQTTnet;
using MQTTnet.Protocol;
using MQTTnet.Server;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition.Mqtt;

/// <summary>A broker that refuses a subscription: Debian's cannot be made to, so this is the library's own server, over real sockets.</summary>
public class RefusedTopicTests
{
    private readonly CollectedLog _log = new();

    [Fact]
    public async Task RefusedTopic_CostsItsSawOnlyAndIsAskedForAgain()
    {
        var port = Peer.FreePort();
        using var server = new MqttServerFactory().CreateMqttServer(
            new MqttServerOptionsBuilder().WithDefaultEndpoint().WithDefaultEndpointBoundIPAddress(IPAddress.Loopback).WithDefaultEndpointBoundIPV6Address(IPAddress.None).WithDefaultEndpointPort(port).Build());
        var refuses = true;
        server.InterceptingSubscriptionAsync += e =>
        {
            if (Volatile.Read(ref refuses) && e.TopicFilter.Topic == "hall/saw-2")
            {
                e.Response.ReasonCode = MqttSubscribeReasonCode.NotAuthorized;
                e.ProcessSubscription = false;
            }

            return Task.CompletedTask;
        };
        await server.StartAsync();

        var time = new FakeTimeProvider(new DateTimeOffset(2026, 3, 2, 6, 0, 0, TimeSpan.Zero));
        var first = new SawInbox("saw-1");
        var second = new SawInbox("saw-2");
        var source = new MqttBrokerSource(
            Published.Broker(port),
            [(Published.Saw(Published.Json(time: null)), first), (Published.Saw(Published.Json("hall/saw-2", time: null), "saw-2"), second)],
            new FrameClock(time),
            time,
            _log.For<MqttBrokerSource>());
        using var stop = new CancellationTokenSource();
        var run = source.RunAsync(stop.Token);
        await Until.TrueAsync(() => source.IsListening, "the broker is listened to");

        var refusal = Assert.Single(_log.Entries, entry => entry.Id == 2203).Text;
        Assert.Contains("refuses the topic hall/saw-2 (NotAuthorized): no signals from it for saw-2", refusal, StringComparison.Ordinal);
        await PublishAsync(server, "hall/saw-1");
        await Until.TrueAsync(() => first.Frames.Count == 1, "the frame of the other saw");

        time.Advance(MqttSession.AskAgain);
        Volatile.Write(ref refuses, false);
        await Until.TrueAsync(
            () =>
            {
                time.Advance(MqttSession.AskAgain);
                return _log.Count(2204) == 1;
            },
            "the topic is allowed");
        await PublishAsync(server, "hall/saw-2");
        await Until.TrueAsync(() => second.Frames.Count == 1, "the frame of the refused saw");
        Assert.Equal(1, _log.Count(2203));
        Assert.Equal(1, source.Connections);

        await stop.CancelAsync();
        await run;
        await server.StopAsync();
    }

    private static Task PublishAsync(MqttServer server, string topic) => server.InjectApplicationMessage(
        new InjectedMqttApplicationMessage(new MqttApplicationMessageBuilder().WithTopic(topic).WithPayload("""{"load":1}""").Build()) { SenderClientId = "test" });
}
