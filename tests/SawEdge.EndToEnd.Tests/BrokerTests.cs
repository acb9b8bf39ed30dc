using System.Globalization;
using System.Text.Json.Nodes;
using SawEdge.Core.Signals;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Mqtt;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>The built gateway at a broker with TLS, passwords, client certificates and a memory on disk; what is published is published by the broker's own program.</summary>
public sealed class BrokerTests : IDisposable
{
    private const int BrokerIsAway = 2201;
    private const int BrokerIsBack = 2202;
    private static readonly TimeSpan Step = TimeSpan.FromMilliseconds(20);

    private readonly PlantAuthority _authority = new();
    private readonly TempFolder _disk = new();

    /// <summary>
    /// In the cut the broker is killed and comes back, and the publisher sends the last second again; later the gateway is killed, frames
    /// are published while it is away, and the broker is killed with them. The cut is recorded once, with its true times.
    /// </summary>
    [PeerFact("mosquitto", "mosquitto_pub", "mosquitto_passwd")]
    public async Task BrokerAndGatewayAreKilledInACut_ItIsRecordedOnceWithItsTimes()
    {
        await using var broker = await SecuredAsync();
        var (frames, truth) = Frames();
        using var folder = Folder(broker, keepSession: true);
        var cut = frames.FindIndex(frame => frame.Time > truth.Contact) + 10;
        var next = cut;

        await using (var first = folder.Start())
        {
            await first.UntilAsync(() => broker.Output.Contains("Sending SUBACK to sawedge-hall-1", StringComparison.Ordinal), "the gateway listens");
            await PublishAsync(broker, frames[..cut]);
            await first.UntilAsync(() => folder.History.LastOpenPart("saw-1") is not null, "the cycle is open");
            await broker.KillAsync();
            await first.LogsAsync(BrokerIsAway);
            await broker.StartAgainAsync();
            await first.LogsAsync(BrokerIsBack);
            var parts = folder.History.LastOpenPart("saw-1");
            await PublishAsync(broker, frames[(cut - 20)..cut]);
            await first.UntilAsync(
                async () =>
                {
                    await PublishAsync(broker, [frames[next++]]);
                    return folder.History.LastOpenPart("saw-1") > parts;
                },
                "more of the cycle is stored");
            Assert.InRange(frames[next].Time, truth.Contact!.Value, truth.Breakthrough!.Value.AddSeconds(-1));
            Assert.Equal(1, first.Count(BrokerIsAway));
            await first.KillAsync();
        }

        await PublishAsync(broker, frames[next..(next + 40)]);
        await broker.KillAsync();
        await broker.StartAgainAsync();
        await using var second = folder.Start();
        await second.UntilAsync(() => broker.Output.Contains("Sending SUBACK to sawedge-hall-1", StringComparison.Ordinal), "the gateway listens again");
        await PublishAsync(broker, frames[(next + 40)..]);
        await second.UntilAsync(() => folder.History.Cycles().Count >= 1, "the cycle is in the history");
        Assert.Equal(0, await second.EndAsync());

        var cycle = Assert.Single(folder.History.Cycles());
        Assert.Equal("completed", cycle.Outcome);
        Assert.InRange((cycle.Time("cut_started_at")!.Value - truth.Contact!.Value).TotalSeconds, -0.1, 0.1);
        Assert.InRange((cycle.Time("cut_ended_at")!.Value - truth.Breakthrough!.Value).TotalSeconds, -0.1, 0.1);
    }

    [PeerFact("mosquitto", "mosquitto_sub", "mosquitto_passwd")]
    public async Task Presence_FollowsTheGateway_ThroughAnOrderlyEndAndAPowerCut()
    {
        await using var broker = await SecuredAsync();
        using var folder = Folder(broker, keepSession: false);
        await using (var first = folder.Start())
        {
            await first.UntilAsync(async () => await PresenceAsync(broker) == "online", "it says that it is online");
            Assert.Equal(0, await first.EndAsync());
            Assert.Equal("offline", await PresenceAsync(broker));
        }

        await using var second = folder.Start();
        await second.UntilAsync(async () => await PresenceAsync(broker) == "online", "it says that it is online");
        await second.KillAsync();
        await Until.TrueAsync(async () => await PresenceAsync(broker) == "offline", "the broker says that it is offline");
    }

    public void Dispose()
    {
        _authority.Dispose();
        _disk.Dispose();
    }

    // One cycle of a saw, ended a few seconds ago, as far as the next begins.
    private static (List<SignalFrame> Frames, SawTruth Truth) Frames()
    {
        var options = SmallSaw.Named("saw-1", 61) with { Start = DateTimeOffset.FromUnixTimeSeconds(DateTimeOffset.UtcNow.ToUnixTimeSeconds() - 60) };
        var saw = new VirtualSaw(options);
        var truth = saw.Truth;
        var frames = new List<SignalFrame>();
        for (var time = options.Start; time < truth.Ended.AddSeconds(4); time += Step)
        {
            saw.AdvanceTo(time);
            if (saw.TrySample(time, out var frame))
                frames.Add(frame);
        }

        return (frames, truth);
    }

    private async Task<MosquittoBroker> SecuredAsync()
    {
        File.WriteAllText(_disk.File("passwords"), "gateway:hush\nsaw:hush\n");
        var (exit, output) = await Peer.RunAsync("mosquitto_passwd", ["-U", _disk.File("passwords")]);
        Assert.True(exit == 0, output);

        var memory = File.ReadAllLines(Path.Combine(AppContext.BaseDirectory, "mosquitto-memory.conf")).Where(line => line.Length > 0 && line[0] != '#');
        return await MosquittoBroker.StartSecuredAsync(
            _authority,
            _authority.Make("broker", ["127.0.0.1"]),
            wantsCertificate: true,
            [
                .. memory,
                $"persistence_location {_disk.Path}/",
                $"password_file {_disk.File("passwords")}",
            ]);
    }

    private GatewayFolder Folder(MosquittoBroker broker, bool keepSession)
    {
        var (certificate, key) = _authority.Make("gateway");
        return new GatewayFolder()
            .With("brokers", new JsonArray(new JsonObject
            {
                ["name"] = "hall",
                ["host"] = "127.0.0.1",
                ["port"] = broker.Port,
                ["user"] = "gateway",
                ["password"] = "hush",
                ["keepSession"] = keepSession,
                ["presenceTopic"] = "riverbend/gateways/hall-1",
                ["tls"] = new JsonObject { ["caFile"] = _authority.RootFile, ["certificateFile"] = certificate, ["keyFile"] = key },
            }))
            .With("saws", new JsonArray(new[] { "saw-1", "saw-2" }.Select(name => (JsonNode)new JsonObject
            {
                ["name"] = name,
                ["source"] = "mqtt",
                ["broker"] = "hall",
                ["interval"] = "20 ms",
                ["topic"] = "riverbend/{saw}/frame",
                ["timeMember"] = "time",
                ["signals"] = new JsonObject(SignalInfo.All.Select(info => KeyValuePair.Create<string, JsonNode?>(info.Name, new JsonObject { ["member"] = info.Name }))),
            }).ToArray()));
    }

    private async Task PublishAsync(MosquittoBroker broker, List<SignalFrame> frames)
    {
        var file = _disk.File("frames");
        await File.WriteAllLinesAsync(file, frames.Select(frame => System.Text.Encoding.UTF8.GetString(FramePayload.Json(frame))));
        var own = _authority.Make("saw-1");
        var port = broker.Port.ToString(CultureInfo.InvariantCulture);
        var (exit, output) = await Peer.RunAsync(
            "sh",
            ["-c", "exec mosquitto_pub -l -q 1 -h 127.0.0.1 -p \"$1\" -u saw -P hush --cafile \"$2\" --cert \"$3\" --key \"$4\" -t riverbend/saw-1/frame < \"$5\"", "sh", port, _authority.RootFile, own.Certificate, own.Key, file]);
        Assert.True(exit == 0, output);
    }

    private async Task<string> PresenceAsync(MosquittoBroker broker)
    {
        var own = _authority.Make("reader");
        var (_, output) = await Peer.RunAsync(
            "mosquitto_sub",
            ["-h", "127.0.0.1", "-p", broker.Port.ToString(CultureInfo.InvariantCulture), "-u", "saw", "-P", "hush", "--cafile", _authority.RootFile, "--cert", own.Certificate, "--key", own.Key, "-t", "riverbend/gateways/hall-1", "--retained-only", "-C", "1", "-W", "5"]);
        return output.Trim();
    }
}
