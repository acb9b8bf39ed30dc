using System.Globalization;
using System.Net;
using System.Net.Sockets;
using MQTTnet;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition.Mqtt;

public class MqttBrokerSourceTests
{
    private readonly CollectedLog _log = new();

    [PeerFact("mosquitto", "mosquitto_pub")]
    public Task Frames_OverVersion5_Arrive() => FramesArriveAsync(version5: true, "mqttv5");

    [PeerFact("mosquitto", "mosquitto_pub")]
    public Task Frames_OverVersion311_Arrive() => FramesArriveAsync(version5: false, "mqttv311");

    [PeerFact("mosquitto", "mosquitto_pub")]
    public async Task TopicASignal_Values_BecomeAFrame()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        await broker.PublishAsync("hall/saw-1/job", "J-1", "-r");
        await broker.PublishAsync("hall/saw-1/motor_load", "99", "-r");
        await using var source = Start(Published.Broker(broker.Port), Published.Topics());
        await source.ListensAsync();

        await broker.PublishAsync("hall/saw-1/cutting", "true");
        await broker.PublishAsync("hall/saw-1/head_position", "250.5");

        await Until.TrueAsync(() => source.Take().Exists(frame => frame.Has(Signal.HeadPosition)), "a frame with the head position");
        var frame = source.Taken[^1];
        Assert.Equal(250.5, frame.Number(Signal.HeadPosition));
        Assert.True(frame.Flag(Signal.Cutting));
        Assert.Equal("J-1", frame.Text(Signal.Job));
        Assert.Equal(SignalQuality.NotRead, frame.QualityOf(Signal.MotorLoad));
    }

    [PeerFact("mosquitto", "mosquitto_pub")]
    public async Task Broker_KilledAndStartedAgain_IsListenedToAgain()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        await using var source = Start(Published.Broker(broker.Port), Published.Json(time: null));
        await source.ListensAsync();
        await broker.PublishAsync("hall/saw-1", """{"load":1}""");
        await Until.TrueAsync(() => source.Take().Count == 1, "the first frame");

        await broker.KillAsync();
        await Until.TrueAsync(() => source.Take().Count == 2, "the frame that says the signals are bad");
        Assert.Equal(SignalQuality.SourceFault, source.Taken[1].QualityOf(Signal.MotorLoad));
        Assert.True(source.Source.IsAway);

        await broker.StartAgainAsync();
        await Until.TrueAsync(() => !source.Source.IsAway, "the broker is listened to again");
        await broker.PublishAsync("hall/saw-1", """{"load":2}""");
        await Until.TrueAsync(() => source.Take().Count == 3, "a frame after the restart");
        Assert.Equal(2, source.Taken[2].Number(Signal.MotorLoad));
        Assert.Equal([2200, 2201, 2202], _log.Entries.Select(entry => entry.Id));
    }

    [PeerFact("mosquitto", "mosquitto_passwd", "mosquitto_pub")]
    public Task WrongPassword_Version5_IsSaidOnceAndRecoversWhenItIsRight() => WrongPasswordAsync(version5: true);

    [PeerFact("mosquitto", "mosquitto_passwd", "mosquitto_pub")]
    public Task WrongPassword_Version311_IsSaidOnceAndRecoversWhenItIsRight() => WrongPasswordAsync(version5: false);

    [PeerFact("mosquitto", "mosquitto_pub")]
    public async Task ServerThatDropsEveryConnection_IsNotHammeredAndGivesWayToABroker()
    {
        var listener = new TcpListener(IPAddress.Loopback, 0);
        listener.Start();
        var port = ((IPEndPoint)listener.LocalEndpoint).Port;
        var dropped = 0;
        var dropping = Task.Run(async () =>
        {
            try
            {
                while (true)
                {
                    using var client = await listener.AcceptTcpClientAsync();
                    await client.GetStream().ReadAtLeastAsync(new byte[2], 2, throwOnEndOfStream: false);
                    Interlocked.Increment(ref dropped);
                }
            }
            catch (SocketException)
            {
                // The listener was stopped.
            }
        });

        await using var source = Start(Published.Broker(port), Published.Json(time: null));
        await Until.TrueAsync(() => Volatile.Read(ref dropped) >= 2, "two attempts");
        Assert.InRange(Volatile.Read(ref dropped), 2, 5);
        Assert.Equal(1, _log.Count(2201));
        listener.Stop();
        await dropping;

        await using var broker = await MosquittoBroker.StartAsync(port);
        await source.ListensAsync();
        await broker.PublishAsync("hall/saw-1", """{"load":2}""");
        await Until.TrueAsync(() => source.Take().Count == 1, "a frame");
        Assert.Equal([2200, 2201, 2202], _log.Entries.Select(entry => entry.Id));
    }

    [PeerFact("mosquitto", "mosquitto_pub")]
    public async Task AnotherClientWithTheSameIdentifier_IsNamed()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        await using var source = Start(Published.Broker(broker.Port), Published.Json(time: null));
        await source.ListensAsync();

        using var other = new MqttClientFactory().CreateMqttClient();
        await other.ConnectAsync(new MqttClientOptionsBuilder().WithTcpServer("127.0.0.1", broker.Port).WithClientId("gateway-test").Build());

        await Until.TrueAsync(() => _log.Count(2201) == 1, "the loss is said");
        Assert.Contains("another client with the identifier gateway-test", _log.Entries.Single(entry => entry.Id == 2201).Text, StringComparison.Ordinal);
    }

    [PeerFact("mosquitto")]
    public async Task Backlog_FiveThousandFrames_AllArriveInOrder()
    {
        const int Frames = 5000;
        await using var broker = await MosquittoBroker.StartAsync();
        await using var source = Start(Published.Broker(broker.Port), Published.Json(time: null));
        await source.ListensAsync();

        using var publisher = new MqttClientFactory().CreateMqttClient();
        await publisher.ConnectAsync(new MqttClientOptionsBuilder().WithTcpServer("127.0.0.1", broker.Port).WithClientId("saw-1").Build());
        for (var i = 0; i < Frames; i++)
            await publisher.PublishStringAsync("hall/saw-1", string.Create(CultureInfo.InvariantCulture, $$"""{"load":{{i}}}"""));
        await publisher.PublishStringAsync("hall/saw-1", """{"load":-1}""", MQTTnet.Protocol.MqttQualityOfServiceLevel.AtLeastOnce);

        await Until.TrueAsync(() => source.Take().Count == Frames + 1, () => string.Create(CultureInfo.InvariantCulture, $"all frames; there are {source.Taken.Count}"));
        Assert.Equal(Enumerable.Range(0, Frames).Append(-1).Select(i => (double)i), source.Taken.Select(frame => frame.Number(Signal.MotorLoad)));
        Assert.True(source.Taken.Zip(source.Taken.Skip(1)).All(pair => pair.First.Time <= pair.Second.Time));
    }

    [PeerFact("mosquitto", "mosquitto_pub")]
    public async Task KeptSession_FramesOfTheAbsence_ComeWithTheirOwnTimes()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        var options = Published.Broker(broker.Port) with { KeepSession = true };
        await using (var first = Start(options, Published.Json()))
            await first.ListensAsync();

        var sent = DateTimeOffset.UtcNow.AddSeconds(-30);
        await broker.PublishAsync("hall/saw-1", string.Create(CultureInfo.InvariantCulture, $$"""{"load":7,"time":"{{sent.UtcDateTime:O}}"}"""));

        await using var second = Start(options, Published.Json());
        await Until.TrueAsync(() => second.Take().Count == 1, "the frame that was kept");
        Assert.Equal(sent, second.Taken[0].Time);
        Assert.Equal(7, second.Taken[0].Number(Signal.MotorLoad));
    }

    [PeerFact("mosquitto", "mosquitto_pub")]
    public async Task TwoSaws_OneWithUselessPayloads_TheOtherGoesOn()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        await using var source = Start(Published.Broker(broker.Port), Published.Json(time: null), Published.Json("hall/saw-2", time: null));
        await source.ListensAsync();
        await broker.PublishAsync("hall/saw-1", "garbage");
        await broker.PublishAsync("hall/saw-1", new string('x', 100_000));
        await broker.PublishAsync("hall/saw-2", """{"load":2}""");
        await Until.TrueAsync(() => source.Take(1).Count == 1, "the frame of the other saw");
        Assert.Empty(source.Take());
        Assert.Equal(1, _log.Count(2205));
    }

    [PeerFact("mosquitto", "mosquitto_pub", "mosquitto_passwd")]
    public async Task PresenceThatTheBrokerDoesNotTake_IsSaidOnceAndFramesCome()
    {
        await using var broker = await MosquittoBroker.StartWithUserAsync("gateway", "hush");
        await broker.KillAsync();
        broker.AddSettings($"acl_file {broker.WriteFile("acl", "user gateway\ntopic read hall/#\ntopic write hall/saw-1\n")}");
        await broker.StartAgainAsync();
        await using var source = Start(Published.Broker(broker.Port) with { User = "gateway", Password = "hush", PresenceTopic = "gateways/test" }, Published.Json(time: null));
        await source.ListensAsync();
        await Until.TrueAsync(() => _log.Count(2217) == 1, "the refusal is said");
        Assert.Contains("does not take what the gateway publishes to gateways/test (NotAuthorized)", _log.Entries[^1].Text, StringComparison.Ordinal);
        await broker.PublishAsync("hall/saw-1", """{"load":2}""", "-u", "gateway", "-P", "hush");
        await Until.TrueAsync(() => source.Take().Count == 1, "a frame");
        Assert.Equal([2200, 2217], _log.Entries.Select(entry => entry.Id));
    }

    private async Task FramesArriveAsync(bool version5, string publisherVersion)
    {
        await using var broker = await MosquittoBroker.StartAsync();
        await using var source = Start(Published.Broker(broker.Port) with { Version5 = version5 }, Published.Json());
        await source.ListensAsync();
        var time = DateTimeOffset.UtcNow;
        time = time.AddTicks(-(time.Ticks % TimeSpan.TicksPerMillisecond));
        for (var i = 0; i < 3; i++)
        {
            var payload = string.Create(CultureInfo.InvariantCulture, $$"""{"time":"{{time.AddSeconds(i).UtcDateTime:O}}","head":{"position":{{250 - i}}},"load":1.5,"cutting":true,"job":"J-ä"}""");
            await broker.PublishAsync("hall/saw-1", payload, "-V", publisherVersion);
        }

        await Until.TrueAsync(() => source.Take().Count == 3, "three frames");
        Assert.Equal([time, time.AddSeconds(1), time.AddSeconds(2)], source.Taken.Select(frame => frame.Time));
        Assert.Equal([250.0, 249.0, 248.0], source.Taken.Select(frame => frame.Number(Signal.HeadPosition)));
        Assert.All(source.Taken, frame => Assert.Equal("J-ä", frame.Text(Signal.Job)));
        Assert.Contains($"as gateway-test ({(version5 ? "p5" : "p2")}", broker.Output, StringComparison.Ordinal);
        Assert.Equal([2200], _log.Entries.Select(entry => entry.Id));
    }

    private async Task WrongPasswordAsync(bool version5)
    {
        await using var broker = await MosquittoBroker.StartWithUserAsync("gateway", "old-secret");
        var options = Published.Broker(broker.Port) with { Version5 = version5, User = "gateway", Password = "new-secret" };
        await using var source = Start(options, Published.Json(time: null));
        await Until.TrueAsync(() => _log.Count(2201) == 1, "the refusal is said");
        Assert.Contains("Check the broker's user and password", _log.Entries.Single(entry => entry.Id == 2201).Text, StringComparison.Ordinal);
        Assert.Equal(0, source.Source.Connections);

        await broker.KillAsync();
        await broker.SetPasswordAsync("gateway", "new-secret");
        await broker.StartAgainAsync();
        await source.ListensAsync();
        await broker.PublishAsync("hall/saw-1", """{"load":2}""", "-u", "gateway", "-P", "new-secret");
        await Until.TrueAsync(() => source.Take().Count == 1, "a frame");
        Assert.Equal([2200, 2201, 2202], _log.Entries.Select(entry => entry.Id));
        Assert.DoesNotContain(_log.Entries, entry => entry.Text.Contains("secret", StringComparison.Ordinal));
    }

    private RunningSource Start(MqttBrokerOptions broker, params MqttSourceOptions[] saws) => new(broker, saws, _log);
}
