using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Hosting;

namespace SawEdge.Gateway.Tests.Configuration;

public sealed class SparkplugConfigurationTests
{
    private const string Saw = """
        {
          "name": "saw-3", "source": "sparkplug", "broker": "hall", "nodeGroup": "River bend", "node": "hall-2", "device": "saw 3",
          "machine": { "ratedPower": "4 kW" },
          "signals": {
            "head_position": { "metric": "Head/Position", "unit": "in", "minimum": "0 in" },
            "motor_load": { "metric": "Drive/Load", "unit": "% of rated" },
            "cutting": { "metric": "State", "values": [ 3, "CUT" ] },
            "mode": { "metric": "Mode", "texts": { "2": "automatic" } },
            "part_count": { "metric": "Parts", "maximum": 1000 }
          }
        }
        """;

    private const string Host = """{ "rebirth": true }""";

    [Fact]
    public void Load_ASparkplugSaw_IsUnderstood()
    {
        var options = Sample.Load(Sample.With(("saws[2]", Saw), ("brokers[0].sparkplug", """{ "hostId": "us", "rebirth": true, "reorderTimeout": "0 s" }"""))).Options();
        var saw = options.Saws[2];
        var source = Assert.IsType<SparkplugSourceOptions>(saw.Source);
        Assert.Equal(("hall", "River bend", "hall-2", "saw 3"), (source.Broker, source.Group, source.Node, source.Device));
        Assert.Equal(["Head/Position", "Drive/Load", "State", "Mode", "Parts"], source.Signals.Select(mapping => mapping.Metric));
        Assert.Equal(254, source.Signals.Single(mapping => mapping.Signal == Signal.HeadPosition).Conversion.Apply(10), 9);
        Assert.Equal(2, source.Signals.Single(mapping => mapping.Signal == Signal.MotorLoad).Conversion.Apply(50), 9);
        Assert.Equal(["3", "CUT"], source.Signals.Single(mapping => mapping.Signal == Signal.Cutting).Values);
        Assert.Equal(1000, source.Signals.Single(mapping => mapping.Signal == Signal.PartCount).Maximum);
        Assert.Equal([Signal.HeadPosition, Signal.MotorLoad, Signal.Cutting, Signal.PartCount, Signal.Mode], saw.MappedSignals.Order());
        Assert.Equal(new SparkplugHostOptions { HostId = "us", Rebirth = true, ReorderTimeout = TimeSpan.Zero }, options.MqttBrokers[0].Sparkplug);
        Assert.True(SourceLoops.PublishesChanges(saw));
        Assert.Equal("hall", SourceLoops.SourceOf(saw));
    }

    [Fact]
    public void Load_ANodesOwnMetrics_NeedNoDeviceAndByDefaultNothingIsPublished()
    {
        var options = Sample.Load(Sample.With(("saws[2]", Saw), ("saws[2].device", null))).Options();
        Assert.Null(((SparkplugSourceOptions)options.Saws[2].Source).Device);
        Assert.Null(options.MqttBrokers[0].Sparkplug);
        Assert.Equal(new SparkplugHostOptions { HostId = null, Rebirth = false, ReorderTimeout = TimeSpan.FromSeconds(2) }, Sample.Load(Sample.With(("saws[2]", Saw), ("brokers[0].sparkplug", "{}"))).Options().MqttBrokers[0].Sparkplug);
    }

    /// <summary>Sparkplug 3.0, chapter 4: no identifier holds + / or #.</summary>
    [Theory]
    [InlineData("saws[2].nodeGroup", "\"a/b\"", "error saws[2].nodeGroup: 'a/b' holds + / or #, which no identifier of Sparkplug can hold; write it as it stands between two / of the topics")]
    [InlineData("saws[2].node", "\"+\"", "error saws[2].node: '+' holds + / or #, which no identifier of Sparkplug can hold; write it as it stands between two / of the topics")]
    [InlineData("saws[2].device", "\"saw#3\"", "error saws[2].device: 'saw#3' holds + / or #, which no identifier of Sparkplug can hold; write it as it stands between two / of the topics")]
    [InlineData("brokers[0].sparkplug.hostId", "\"us/2\"", "error brokers[0].sparkplug.hostId: 'us/2' holds + / or #, which no identifier of Sparkplug can hold; write it as it stands between two / of the topics")]
    [InlineData("saws[2].node", null, "error saws[2].node: is missing; write for example \"hall-2\"")]
    [InlineData("saws[2].nodeGroup", null, "error saws[2].nodeGroup: is missing; write for example \"Riverbend\"")]
    [InlineData("saws[2].topic", "\"t\"", "error saws[2].topic: belongs to source \"mqtt\"; here source is \"sparkplug\"")]
    [InlineData("saws[1].node", "\"n\"", "error saws[1].node: belongs to source \"sparkplug\"; here source is \"mqtt\"")]
    [InlineData("saws[2].signals.mode.metric", null, "error saws[2].signals.mode.metric: is missing; write for example \"Drive/Power\"")]
    public void Load_OneMistake_IsReportedWithItsPathAndNothingElse(string path, string? json, string expected)
    {
        var loaded = Sample.Load(Sample.With(("saws[2]", Saw), ("brokers[0].sparkplug", Host), (path, json)));
        Assert.Equal([expected], loaded.Lines());
    }

    [Fact]
    public void Load_ABrokerThatIsNotThere_IsReported() => Assert.Contains(
        "error saws[2].broker: there is no broker 'hull'; did you mean 'hall'?",
        Sample.Load(Sample.With(("saws[2]", Saw), ("saws[2].broker", "\"hull\""))).Lines());

    [Fact]
    public void Load_ABrokerThatMayNotAsk_IsDoubted() => Assert.Equal(
        ["warning brokers[0].sparkplug: after each start of the gateway nothing is known of the nodes until they are started again; write \"rebirth\": true here to let the gateway ask them for their births, or a hostId for nodes that wait for it"],
        Sample.Load(Sample.With("saws[2]", Saw)).Lines());

    [Fact]
    public void Load_ABrokerWithoutMetrics_IsDoubted() => Assert.Equal(
        ["warning brokers[0].sparkplug: no saw has metrics at this broker; write \"source\": \"sparkplug\" for one, or leave this out"],
        Sample.Load(Sample.With("brokers[0].sparkplug", Host)).Lines());

    [Fact]
    public void Load_TwoLastWills_AreAnError() => Assert.Equal(
        ["error brokers[0].sparkplug.hostId: a connection has one last will, and presenceTopic needs it as well; keep one of the two, or describe the broker a second time with another clientId"],
        Sample.Load(Sample.With(("saws[2]", Saw), ("brokers[0].sparkplug", """{ "hostId": "us" }"""), ("brokers[0].presenceTopic", "\"here\""))).Lines());

    [Fact]
    public void Load_AHostThatKeepsItsSession_IsAnError() => Assert.Contains(
        "error brokers[0].keepSession: a Sparkplug host must begin anew with each connection; leave keepSession or hostId out, or describe the broker a second time with another clientId",
        Sample.Load(Sample.With(("saws[2]", Saw), ("brokers[0].sparkplug", """{ "hostId": "us" }"""), ("brokers[0].keepSession", "true"))).Lines());

    [Fact]
    public void Load_ASecondSawOnTheSameMetric_IsAskedAbout() => Assert.Equal(
        ["warning saws[3].signals.motor_load: comes from the same place as saws[2].signals.motor_load; is the device right?"],
        Sample.Load(Sample.With(("saws[2]", Saw), ("saws[3]", Saw), ("saws[3].name", "\"saw-4\""), ("saws[3].signals", """{ "motor_load": { "metric": "Drive/Load", "unit": "W" }, "cutting": { "metric": "State 4" } }"""), ("brokers[0].sparkplug", Host))).Lines());

    [Fact]
    public void Load_ABrokerForMetricsAlone_IsUsed()
    {
        var loaded = Sample.Load(Sample.With(("saws[1]", Saw), ("brokers[0].sparkplug", Host)));
        Assert.Empty(loaded.Findings);
    }
}
