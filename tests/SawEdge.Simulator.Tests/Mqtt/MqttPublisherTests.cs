using System.Globalization;
using System.Text.Json;
using SawEdge.Core.Signals;
using SawEdge.Simulator.Mqtt;
using SawEdge.Simulator.Saws;
using SawEdge.Simulator.Tests.Modbus;
using SawEdge.Simulator.Time;
using SawEdge.TestSupport;

namespace SawEdge.Simulator.Tests.Mqtt;

public sealed class MqttPublisherTests
{
    [Fact]
    public void Json_HoldsEverySignalByItsName()
    {
        new FixedSaw().TryRead(out var frame);
        Assert.Equal(
            """{"time":"2026-03-02T06:00:00.000Z","head_position":-3.4,"motor_load":1.625,"blade_speed":71.3,"cycle_active":true,"cutting":false,"blade_running":true,"fault_code":30,"mode":"automatic","job":"OB-1180","part_count":70000}""",
            System.Text.Encoding.UTF8.GetString(FramePayload.Json(frame)));
    }

    [PeerFact("mosquitto", "mosquitto_sub")]
    public async Task Frames_AtARealBroker_CarryVirtualTimeAndTheSawsValues()
    {
        using var folder = new TempFolder();
        var port = Peer.FreePort();
        await using var broker = await BrokerAsync(folder, port);
        await using var subscriber = Subscribe(port, "plant/saw-1");
        await subscriber.PrintsAsync("Subscribed");

        var clock = new ScaledTimeProvider(TimeProvider.System, 20, Make.Start);
        var options = Make.Quiet() with { Noise = new NoiseModel() };
        await using (var publisher = new MqttPublisher(
            new LiveSaw(new VirtualSaw(options), clock),
            new MqttPublisherOptions { Host = "127.0.0.1", Port = port, ClientId = "saw-1", Topic = "plant/saw-1", Interval = TimeSpan.FromMilliseconds(200) },
            clock))
        {
            await Until.TrueAsync(() => Payloads(subscriber).Count >= 50, () => $"50 frames arrive; so far: {subscriber.Output} {publisher.Trouble}");
            Assert.Null(publisher.Trouble);
        }

        var frames = Payloads(subscriber).Select(line => JsonDocument.Parse(line).RootElement).ToList();
        var saw = new VirtualSaw(options);
        foreach (var frame in frames)
        {
            // The frame's own time is to the millisecond, so a moving head may differ by what it moves in one.
            saw.TrySample(frame.GetProperty("time").GetDateTimeOffset(), out var expected);
            Assert.Equal(expected.Number(Signal.HeadPosition), frame.GetProperty("head_position").GetDouble(), 0.3);
            Assert.Equal(expected.Text(Signal.Job), frame.GetProperty("job").GetString());
        }

        var times = frames.Select(frame => frame.GetProperty("time").GetDateTimeOffset()).ToList();
        Assert.Equal(times.Order(), times);

        // A tick may come late, and the next one in time; none comes early.
        Assert.True(times[^1] - Make.Start >= TimeSpan.FromSeconds((times.Count - 1) * 0.2), "no frame comes before its time");
    }

    [PeerFact("mosquitto", "mosquitto_sub")]
    public async Task Signals_OnTopicsOfTheirOwn_ArePublishedWhenTheyChange()
    {
        using var folder = new TempFolder();
        var port = Peer.FreePort();
        await using var broker = await BrokerAsync(folder, port);
        await using var subscriber = Subscribe(port, "plant/#");
        await subscriber.PrintsAsync("Subscribed");

        var options = new MqttPublisherOptions { Host = "127.0.0.1", Port = port, ClientId = "saw-1", Topic = "plant/saw-1", Interval = TimeSpan.FromMilliseconds(5), TopicPerSignal = true, Version5 = false };
        await using var publisher = new MqttPublisher(new FixedSaw(), options, TimeProvider.System);
        await subscriber.PrintsAsync("plant/saw-1/part_count 70000");
        string[] expected =
        [
            "blade_running true", "blade_speed 71.3", "cutting false", "cycle_active true", "fault_code 30",
            "head_position -3.4", "job OB-1180", "mode automatic", "motor_load 1.625", "part_count 70000",
        ];
        // The values stand still: whatever comes later would be a second line of the same signal.
        await Until.TrueAsync(() => publisher.Published >= expected.Length, "all are published");
        var lines = subscriber.Output.Split('\n').Where(line => line.StartsWith("plant/", StringComparison.Ordinal)).Select(line => line["plant/saw-1/".Length..]);
        Assert.Equal(expected, lines.Order(StringComparer.Ordinal));
    }

    [PeerFact("mosquitto", "mosquitto_sub")]
    public async Task Broker_GoesAwayAndComesBack_PublishingGoesOn()
    {
        using var folder = new TempFolder();
        var port = Peer.FreePort();
        var options = new MqttPublisherOptions { Host = "127.0.0.1", Port = port, ClientId = "saw-1", Topic = "plant/saw-1", Interval = TimeSpan.FromMilliseconds(20) };
        await using var publisher = new MqttPublisher(new FixedSaw(), options, TimeProvider.System);
        await Until.TrueAsync(() => publisher.Trouble is not null, "the missing broker is noticed");
        await using (await BrokerAsync(folder, port))
            await Until.TrueAsync(() => publisher is { Published: > 5, Trouble: null }, "frames are published");

        await Until.TrueAsync(() => publisher.Trouble is not null, "the lost broker is noticed");
        var before = publisher.Published;
        await using var again = await BrokerAsync(folder, port);
        await Until.TrueAsync(() => publisher.Published > before + 5, "publishing goes on");
        Assert.False(publisher.Completion.IsCompleted);
    }

    internal static async Task<Peer> BrokerAsync(TempFolder folder, int port)
    {
        // Without the two limits mosquitto silently drops under backlog.
        await File.WriteAllTextAsync(
            folder.File("mosquitto.conf"),
            string.Create(CultureInfo.InvariantCulture, $"listener {port} 127.0.0.1\nallow_anonymous true\npersistence false\nmax_queued_messages 0\nmax_inflight_messages 0\n"));
        var broker = Peer.Start("mosquitto", ["-c", folder.File("mosquitto.conf")]);
        await broker.ListensAsync(port);
        return broker;
    }

    // Into a pipe mosquitto_sub would hold its lines back until a block is full.
    private static Peer Subscribe(int port, string topic) =>
        Peer.Start("stdbuf", ["-oL", "mosquitto_sub", "-d", "-v", "-q", "1", "-h", "127.0.0.1", "-p", port.ToString(CultureInfo.InvariantCulture), "-t", topic]);

    private static List<string> Payloads(Peer subscriber) =>
        [.. subscriber.Output.Split('\n').Where(line => line.StartsWith("plant/saw-1 {", StringComparison.Ordinal) && line.EndsWith('}')).Select(line => line["plant/saw-1 ".Length..])];
}
