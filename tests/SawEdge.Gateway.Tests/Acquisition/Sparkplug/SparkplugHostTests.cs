using System.Text.Json;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Acquisition.Sparkplug;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Tests.Acquisition.Sparkplug;

/// <summary>What the gateway publishes as a host application: about itself where it has an identifier, and requests for births where it may.</summary>
public sealed class SparkplugHostTests
{
    private static readonly SparkplugHostOptions MayAsk = new() { Rebirth = true };

    /// <summary>Everything that could make it publish, and it does not.</summary>
    [Fact]
    public void Host_ByDefault_PublishesNothing()
    {
        var host = new HostBench();
        Assert.Null(host.Will);
        Provoke(host);
        Assert.Empty(host.Published);
        Assert.DoesNotContain(host.Listener.Filters, filter => filter.Contains("STATE", StringComparison.Ordinal));
    }

    /// <summary>tck-id-operational-behavior-data-commands-ncmd-rebirth-verb, -name and -value; tck-id-topics-ncmd-mqtt.</summary>
    [Fact]
    public void Rebirth_Allowed_IsTheOneThingThatIsPublished()
    {
        var host = new HostBench(MayAsk);
        Provoke(host);

        Assert.NotEmpty(host.Published);
        Assert.All(host.Published, message =>
        {
            Assert.Equal("spBv1.0/Riverbend/NCMD/hall-2", message.Topic);
            Assert.False(message.AtLeastOnce);
            Assert.False(message.Retain);
        });
        var published = host.Published[0].Payload;
        var payload = new SparkplugPayload();
        Assert.True(SparkplugDecoder.TryDecode(published, payload, out _));
        Assert.Equal((ulong)HostBench.Start.ToUnixTimeMilliseconds(), payload.Timestamp);
        Assert.Null(payload.Sequence);
        Assert.Equal(1, payload.Metrics.Length);

        // The same as Google's writer makes of it.
        Assert.Equal(Encoded.Payload((ulong)HostBench.Start.ToUnixTimeMilliseconds(), null, new Metric("Node Control/Rebirth", true, SparkplugDataType.Boolean) { Time = HostBench.Start }), published);
    }

    [Fact]
    public void Rebirth_AfterDataWithoutABirth_IsAskedForOnceAndThenAtGrowingIntervals()
    {
        var host = new HostBench(MayAsk);
        var asked = new List<double>();
        for (var second = 0; second < 3600; second++)
        {
            host.Send("DDATA", "saw-1", Metric.By(12, 1.0));
            if (host.Published.Count > asked.Count)
                asked.Add(second);
            host.Advance(1000);
        }

        Assert.Equal([0.0, 10, 30, 70, 150, 310, 630, 1230, 1830, 2430, 3030], asked);
        Assert.Equal(1, host.Log.Count(2420));
    }

    [Fact]
    public void Rebirth_AfterAnAliasThatWasNeverBorn_IsAskedFor()
    {
        var host = new HostBench(MayAsk);
        host.Births();
        Assert.Empty(host.Published);
        host.Send("DDATA", "saw-1", Metric.By(99, 1.0));
        Assert.Single(host.Published);
    }

    /// <summary>tck-id-operational-behavior-host-reordering-rebirth: when waiting is over, not before.</summary>
    [Fact]
    public void Rebirth_AfterALostMessage_IsAskedForWhenWaitingIsOver()
    {
        var host = new HostBench(MayAsk);
        host.Births();
        host.Next();
        host.Send("DDATA", "saw-1", Metric.By(12, 1.0));
        host.Advance(1999);
        Assert.Empty(host.Published);
        host.Advance(1);
        Assert.Single(host.Published);

        host.Births();
        Assert.Equal(SignalQuality.Good, host.Frames()[^1].QualityOf(Signal.Cutting));
    }

    [Fact]
    public void Rebirth_OfSeveralNodes_IsCountedForEach()
    {
        var host = new HostBench(MayAsk, HostBench.Saw(), HostBench.Saw("saw-2", "saw-2", "hall-3"));
        host.Receive(HostBench.Topic("DDATA", "saw-1"), Encoded.Payload(1, 1, Metric.By(1, 1.0)));
        host.Receive(HostBench.Topic("DDATA", "saw-2", "hall-3"), Encoded.Payload(1, 1, Metric.By(1, 1.0)));
        host.Receive(HostBench.Topic("DDATA", "saw-2", "hall-3"), Encoded.Payload(1, 1, Metric.By(1, 1.0)));
        Assert.Equal(["spBv1.0/Riverbend/NCMD/hall-2", "spBv1.0/Riverbend/NCMD/hall-3"], host.Published.Select(message => message.Topic));
    }

    [Fact]
    public void Rebirth_WhileTheBrokerIsLost_IsNotAskedFor()
    {
        var host = new HostBench(MayAsk);
        host.Listener.BrokerLost();
        host.Send("DDATA", "saw-1", Metric.By(12, 1.0));
        Assert.Empty(host.Published);
    }

    /// <summary>
    /// tck-id-host-topic-phid-birth-topic, -qos, -retain, -payload, -payload-timestamp; the same of -death-: quality of service 1, kept, JSON
    /// with online and timestamp in milliseconds, the time of the last will being that of the birth.
    /// </summary>
    [Fact]
    public void State_WithAnIdentifier_IsPublishedWithTheTimeOfTheWill()
    {
        var host = new HostBench(new SparkplugHostOptions { HostId = "sawedge-hall-2" });
        var online = Assert.Single(host.Published);
        Assert.All([online, host.Will!], message =>
        {
            Assert.Equal("spBv1.0/STATE/sawedge-hall-2", message.Topic);
            Assert.True(message.AtLeastOnce);
            Assert.True(message.Retain);
        });
        Assert.Equal("""{"online":true,"timestamp":1772431200000}""", HostBench.Payload(online));
        Assert.Equal("""{"online":false,"timestamp":1772431200000}""", HostBench.Payload(host.Will!));
        Assert.Equal(2, JsonDocument.Parse(online.Payload).RootElement.EnumerateObject().Count());

        // When it leaves in an orderly way it says the same; the next connection has a time of its own.
        host.Advance(5000);
        Assert.Equal(HostBench.Payload(host.Will!), HostBench.Payload(host.Listener.LastWill()!));
        host.Listener.BrokerLost();
        Assert.Equal("""{"online":false,"timestamp":1772431205000}""", HostBench.Payload(host.Listener.LastWill()!));
        host.Listener.Listening(host);
        Assert.Equal("""{"online":true,"timestamp":1772431205000}""", HostBench.Payload(host.Published[^1]));
        Assert.Contains("spBv1.0/STATE/sawedge-hall-2", host.Listener.Filters);
    }

    [Fact]
    public void State_DeniedBySomebodyElse_IsPutRight()
    {
        var host = new HostBench(new SparkplugHostOptions { HostId = "us" });
        host.Published.Clear();
        host.Receive("spBv1.0/STATE/us", """{"online":true,"timestamp":1}"""u8.ToArray());
        host.Receive("spBv1.0/STATE/us", """{"online":false,"timestamp":1}"""u8.ToArray(), MessageMarks.Retained);
        host.Receive("spBv1.0/STATE/them", """{"online":false,"timestamp":1}"""u8.ToArray());
        Assert.Empty(host.Published);

        for (var i = 0; i < 3; i++)
            host.Receive("spBv1.0/STATE/us", """{"timestamp":1,"online":false}"""u8.ToArray());
        Assert.Equal(3, host.Published.Count);
        Assert.All(host.Published, message => Assert.Equal("""{"online":true,"timestamp":1772431200000}""", HostBench.Payload(message)));
        Assert.Single(host.Texts(2421));
        host.Advance(61_000);
        host.Receive("spBv1.0/STATE/us", """{"online":true,"timestamp":1}"""u8.ToArray());
        Assert.Contains("put right 3 times", Assert.Single(host.Texts(2422)), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("")]
    [InlineData("OFFLINE")]
    [InlineData("{")]
    [InlineData("""{"online":"false"}""")]
    [InlineData("""{"x":{"online":false}}""")]
    [InlineData("""[false]""")]
    [InlineData("""{"online":""")]
    public void State_ThatIsNoSuchMessage_IsLeftAlone(string payload)
    {
        var host = new HostBench(new SparkplugHostOptions { HostId = "us" });
        host.Published.Clear();
        host.Receive("spBv1.0/STATE/us", System.Text.Encoding.UTF8.GetBytes(payload));
        host.Receive("spBv1.0/STATE/us", new byte[1_000_000]);
        Assert.Empty(host.Published);
        Assert.Empty(host.Log.Entries);
    }

    [Fact]
    public void SawsOf_AFilter_AreThoseOfItsNode()
    {
        var host = new HostBench(null, HostBench.Saw(), HostBench.Saw("saw-2", "saw-2", "hall-3"));
        Assert.Equal(12, host.Listener.Filters.Count);
        Assert.Equal(["saw-1", "saw-2"], host.Listener.Saws);
        Assert.Equal(["saw-2"], host.Listener.SawsOf("spBv1.0/Riverbend/DDATA/hall-3/+"));
    }

    private static void Provoke(HostBench host)
    {
        host.Send("DDATA", "saw-1", Metric.By(12, 1.0));
        host.Births();
        host.Send("DDATA", "saw-1", Metric.By(99, 1.0));
        host.Next();
        host.Send("DDATA", "saw-1", Metric.By(12, 1.0));
        host.Advance(60_000);
        host.Death(0);
        host.Receive("spBv1.0/STATE/anybody", """{"online":false,"timestamp":1}"""u8.ToArray());
        host.Receive("spBv1.0/Riverbend/NCMD/hall-2", Encoded.Payload(1, null, new Metric("Node Control/Rebirth", true, SparkplugDataType.Boolean)));
    }
}
