using System.Globalization;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.Acquisition.Mqtt;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition.Sparkplug;

/// <summary>An edge node that is not ours, a real broker, and somebody who listens to all that is said there.</summary>
public sealed class SparkplugPeerTests
{
    private const string Birth = """
        {"send":"DBIRTH","device":"saw-1","metrics":[{"name":"Head/Position","alias":11,"type":"Float","value":300.5},{"name":"Drive/Power","alias":12,"type":"Int16","value":1500},
        {"name":"Cutting","alias":13,"type":"Boolean","value":false},{"name":"Job","alias":14,"type":"String","value":"J-7"},{"name":"Table","alias":15,"type":"DataSet"}]}
        """;

    private readonly CollectedLog _log = new();

    [PeerFact("mosquitto", EdgeNode.Python, EdgeNode.Paho, EdgeNode.Protobuf)]
    public async Task Node_BornKilledAndBornAnew_IsFollowed()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        await using var source = new Running(broker, null, _log);
        await source.ListensAsync();
        await using (var node = await EdgeNode.StartAsync(broker.Port, number: 255))
        {
            await BornAsync(node);
            await Until.TrueAsync(() => source.Take().Count == 1, "the birth is a frame");
            Assert.Equal(300.5, source.Taken[0].Number(Signal.HeadPosition));
            Assert.Equal(1.5, source.Taken[0].Number(Signal.MotorLoad));
            Assert.Equal("J-7", source.Taken[0].Text(Signal.Job));

            await node.TellAsync(Data("""{"alias":12,"typed":false,"type":"Int16","value":-250}"""));
            await Until.TrueAsync(() => source.Take().Count == 2, "data");
            Assert.Equal(-0.25, source.Taken[1].Number(Signal.MotorLoad));
            Assert.Equal(300.5, source.Taken[1].Number(Signal.HeadPosition));

            // Round and round the numbers of the messages, other devices' among them.
            await node.TellAsync("""{"send":"DDATA","device":"conveyor","times":300,"metrics":[{"alias":90,"typed":false,"type":"Double","value":1}]}""");
            await node.TellAsync(Data("""{"alias":13,"typed":false,"type":"Boolean","value":true}"""));
            await Until.TrueAsync(() => source.Take().Exists(frame => frame.Flag(Signal.Cutting) == true), "data after 300 messages of another device");
            Assert.DoesNotContain(_log.Entries, entry => entry.Id is 2404 or 2405);

            await node.KillAsync();
            await Until.TrueAsync(() => source.Take()[^1].QualityOf(Signal.HeadPosition) == SignalQuality.SourceFault, "the broker says that the node is gone");
            Assert.Equal(1, _log.Count(2415));
        }

        var count = source.Taken.Count;
        await using (var node = await EdgeNode.StartAsync(broker.Port, number: 0))
        {
            await BornAsync(node);
            await Until.TrueAsync(() => source.Take().Count == count + 1, "the second birth is a frame");
            Assert.Equal(300.5, source.Taken[^1].Number(Signal.HeadPosition));

            // The device alone, then the node in good order.
            await node.TellAsync("""{"send":"DDEATH","device":"saw-1"}""");
            await Until.TrueAsync(() => source.Take().Count == count + 2, "the device is gone");
            await node.TellAsync(Birth.ReplaceLineEndings(" "));
            await Until.TrueAsync(() => source.Take().Count == count + 3, "the device is back");
            await node.TellAsync("""{"send":"NDEATH"}""");
            await Until.TrueAsync(() => source.Take().Count == count + 4, "the node has left");
            Assert.Equal(SignalQuality.SourceFault, source.Taken[^1].QualityOf(Signal.HeadPosition));
        }

        Assert.Equal(0, _log.Count(2400));
    }

    /// <summary>Everything that could make the gateway say something, and somebody who hears everything.</summary>
    [PeerFact("mosquitto", "mosquitto_sub", "mosquitto_pub", EdgeNode.Python, EdgeNode.Paho, EdgeNode.Protobuf)]
    public async Task Gateway_ByDefault_SaysNothingAtAll()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        await using var listener = await Listener.StartAsync(broker);
        await using (var source = new Running(broker, new SparkplugHostOptions { ReorderTimeout = TimeSpan.Zero }, _log))
        {
            await source.ListensAsync();
            await ProvokeAsync(broker, source);
        }

        await broker.PublishAsync("spBv1.0/end", "end");
        await listener.HearsAsync("spBv1.0/end");
        Assert.DoesNotContain(listener.Heard, message => !message.Topic.Contains("BIRTH/", StringComparison.Ordinal) && !message.Topic.Contains("DATA/", StringComparison.Ordinal) && !message.Topic.Contains("DEATH/", StringComparison.Ordinal) && message.Topic is not ("spBv1.0/STATE/somebody" or "spBv1.0/end"));
    }

    [PeerFact("mosquitto", "mosquitto_sub", "mosquitto_pub", EdgeNode.Python, EdgeNode.Paho, EdgeNode.Protobuf)]
    public async Task Gateway_ThatMayAskForBirths_SaysThatAloneAndIsAnswered()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        await using var listener = await Listener.StartAsync(broker);
        await using var node = await EdgeNode.StartAsync(broker.Port, answers: true);
        await BornAsync(node);
        await listener.HearsAsync("spBv1.0/Riverbend/DBIRTH/hall-2/saw-1");
        await using (var source = new Running(broker, new SparkplugHostOptions { Rebirth = true }, _log))
        {
            // The gateway comes later than the births, and learns what the data mean because it asks.
            await source.ListensAsync();
            await node.TellAsync(Data("""{"alias":12,"typed":false,"type":"Int16","value":700}"""));
            await node.PrintsAsync("command spBv1.0/Riverbend/NCMD/hall-2 qos 0 retain 0 Node Control/Rebirth type 11 boolean_value True");
            await Until.TrueAsync(() => source.Take().Count == 1, "the births that it asked for");
            Assert.Equal(300.5, source.Taken[0].Number(Signal.HeadPosition));
            await node.TellAsync(Data("""{"alias":12,"typed":false,"type":"Int16","value":800}"""));
            await Until.TrueAsync(() => source.Take().Count == 2, "data");
            Assert.Equal(0.8, source.Taken[1].Number(Signal.MotorLoad));
        }

        await broker.PublishAsync("spBv1.0/end", "end");
        await listener.HearsAsync("spBv1.0/end");
        Assert.Single(listener.Heard, message => message.Topic == "spBv1.0/Riverbend/NCMD/hall-2");
        Assert.DoesNotContain(listener.Heard, message => message.Topic.Contains("DCMD", StringComparison.Ordinal) || message.Topic.Contains("STATE", StringComparison.Ordinal));
        Assert.Equal([2200, 2402, 2420, 2412], _log.Entries.Select(entry => entry.Id));
    }

    /// <summary>The state of the host: when it is there, when it is thrown out, when somebody denies it, when it leaves.</summary>
    [PeerFact("mosquitto", "mosquitto_sub", "mosquitto_pub")]
    public async Task Host_WithAnIdentifier_SaysWhetherItIsThere()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        await using var listener = await Listener.StartAsync(broker);
        await using (var source = new Running(broker, new SparkplugHostOptions { HostId = "us" }, _log))
        {
            await source.ListensAsync();
            await listener.StatesAsync(true);

            // Another client takes the identifier: the broker publishes the last will, and the gateway comes back.
            await broker.PublishAsync("somewhere", "x", "-i", "gateway-test");
            await listener.StatesAsync(true, false, true);

            await broker.PublishAsync("spBv1.0/STATE/us", """{"online":false,"timestamp":5}""");
            await listener.StatesAsync(true, false, true, false, true);
            Assert.Equal(1, _log.Count(2421));
        }

        await listener.StatesAsync(true, false, true, false, true, false);
        var states = listener.States.ToList();

        // The last will has the time of its birth, and the next connection a later one.
        Assert.Equal(states[0].Timestamp, states[1].Timestamp);
        Assert.True(states[2].Timestamp > states[0].Timestamp);
        Assert.Equal(5, states[3].Timestamp);
        Assert.Equal([states[2].Timestamp, states[2].Timestamp], states[4..].Select(state => state.Timestamp));

        // Kept by the broker: who comes later hears it, too.
        await using var late = await Listener.StartAsync(broker);
        await late.StatesAsync(false);
        Assert.Equal("1", late.Heard[0].Retained);
    }

    private static string Data(string metrics) => $$"""{"send":"DDATA","device":"saw-1","metrics":[{{metrics}}]}""";

    private static async Task BornAsync(EdgeNode node)
    {
        await node.TellAsync("""{"send":"NBIRTH"}""");
        await node.TellAsync(Birth.ReplaceLineEndings(" "));
    }

    private static async Task ProvokeAsync(MosquittoBroker broker, Running source)
    {
        await using var node = await EdgeNode.StartAsync(broker.Port);
        await node.TellAsync(Data("""{"alias":12,"typed":false,"type":"Int16","value":1}"""));
        await Until.TrueAsync(() => source.Log.Count(2402) == 1, "data before a birth");
        await BornAsync(node);
        await node.TellAsync(Data("""{"alias":99,"typed":false,"type":"Int16","value":1}"""));
        await Until.TrueAsync(() => source.Log.Count(2407) == 1, "an alias that was never born");
        await node.TellAsync("""{"send":"DDATA","device":"saw-1","lost":true}""");
        await node.TellAsync(Data("""{"alias":12,"typed":false,"type":"Int16","value":2}"""));
        await Until.TrueAsync(() => source.Log.Count(2404) == 1, "a lost message");
        await broker.PublishAsync("spBv1.0/STATE/somebody", """{"online":false,"timestamp":5}""");
        await broker.PublishAsync("spBv1.0/Riverbend/DDATA/hall-2/saw-1", "nonsense");
        await Until.TrueAsync(() => source.Log.Count(2400) == 1, "a payload that is none");
        await node.KillAsync();
        await Until.TrueAsync(() => source.Log.Count(2415) == 1, "the node is gone");
    }

    private sealed class Running : IAsyncDisposable
    {
        private readonly CancellationTokenSource _stop = new();
        private readonly SawInbox _inbox = new("saw-1");
        private readonly MqttBrokerSource _source;
        private readonly Task _run;

        public Running(MosquittoBroker broker, SparkplugHostOptions? host, CollectedLog log)
        {
            Log = log;
            var options = Published.Broker(broker.Port) with { Sparkplug = host };
            _source = new MqttBrokerSource(options, [(HostBench.Saw(), _inbox)], new FrameClock(TimeProvider.System), TimeProvider.System, log.For<MqttBrokerSource>());
            _run = _source.RunAsync(_stop.Token);
        }

        public CollectedLog Log { get; }

        public List<SignalFrame> Taken { get; } = [];

        public List<SignalFrame> Take()
        {
            Taken.AddRange(_inbox.Drain());
            return Taken;
        }

        public Task ListensAsync() => Until.TrueAsync(() => _run.IsCompleted || _source.IsListening, "the broker is listened to");

        public async ValueTask DisposeAsync()
        {
            await _stop.CancelAsync();
            await _run;
            _stop.Dispose();
        }
    }

    /// <summary>mosquitto_sub on everything of Sparkplug.</summary>
    private sealed class Listener : IAsyncDisposable
    {
        private readonly Peer _peer;

        private Listener(Peer peer) => _peer = peer;

        public List<(string Topic, string Retained, string Payload)> Heard => [.. _peer.Output.Split('\n').Where(line => line.StartsWith("heard|", StringComparison.Ordinal)).Select(line => line.Split('|')).Select(parts => (parts[1], parts[2], Text(parts[3])))];

        public IEnumerable<(bool Online, long Timestamp)> States => Heard.Where(message => message.Topic == "spBv1.0/STATE/us").Select(message =>
        {
            var state = System.Text.Json.JsonDocument.Parse(message.Payload).RootElement;
            return (state.GetProperty("online").GetBoolean(), state.GetProperty("timestamp").GetInt64());
        });

        public static async Task<Listener> StartAsync(MosquittoBroker broker)
        {
            // Its output is held back until a block is full, otherwise.
            var peer = Peer.Start("stdbuf", ["-oL", "mosquitto_sub", "-h", "127.0.0.1", "-p", broker.Port.ToString(CultureInfo.InvariantCulture), "-q", "1", "-t", "spBv1.0/#", "-d", "-F", "heard|%t|%r|%x"]);
            await peer.PrintsAsync("Subscribed");
            return new Listener(peer);
        }

        public Task HearsAsync(string topic) => Until.TrueAsync(() => Heard.Exists(message => message.Topic == topic), () => $"a message on {topic}; it heard:\n{_peer.Output}");

        public Task StatesAsync(params bool[] online) => Until.TrueAsync(() => States.Select(state => state.Online).SequenceEqual(online), () => $"states {string.Join(", ", online)}; it heard:\n{_peer.Output}");

        public ValueTask DisposeAsync() => _peer.DisposeAsync();

        private static string Text(string hex) => System.Text.Encoding.UTF8.GetString(Convert.FromHexString(hex));
    }
}
