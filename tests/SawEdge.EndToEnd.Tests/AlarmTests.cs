using System.Globalization;
using System.Net;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using SawEdge.Core.Sections;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Gateway.Tests.Notification;
using SawEdge.Modbus.Tests.Peers;
using SawEdge.Simulator.Faults;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>
/// A blade breaks on a saw behind a pymodbus controller: a webhook receiver, a mail server, a broker and influxd are told by the built
/// gateway, once, whatever happens to its power; a person answers by the link in the message.
/// </summary>
public sealed class BrokenBladeTests
{
    private const string Secret = "riverbend-hook-key";

    [PeerFact(ModbusPeers.Python, ModbusPeers.Pymodbus, InfluxServer.Program, "mosquitto", MailServer.Package)]
    public async Task BladeBreaks_EverybodyIsToldOnce_OverAPowerCut_AndTheLinkAnswersIt()
    {
        await using var hook = new HookReceiver();
        await using var mail = await MailServer.StartAsync();
        await using var broker = await MosquittoBroker.StartAsync();
        await using var influx = await InfluxServer.StartAsync("plant");
        await using var played = await PlayedRecording.StartAsync(libmodbus: false, Saw, cycles: 1);
        var port = Peer.FreePort();
        using var folder = new GatewayFolder()
            .WithDevice("plc", played.Port)
            .WithSaw("saw-1", "plc", PlayedRecording.Unit, PlayedRecording.Signals)
            .WithInflux1(influx, "plant")
            .With("brokers", new JsonArray(new JsonObject { ["name"] = "hall", ["host"] = "127.0.0.1", ["port"] = broker.Port }))
            .With("alarms", new JsonObject
            {
                ["channels"] = new JsonArray(
                    new JsonObject { ["name"] = "hook", ["kind"] = "webhook", ["url"] = hook.Url.ToString(), ["secret"] = Secret },
                    new JsonObject { ["name"] = "post", ["kind"] = "email", ["host"] = "127.0.0.1", ["port"] = mail.Port, ["security"] = "none", ["from"] = "saws@riverbend.example" },
                    new JsonObject { ["name"] = "states", ["kind"] = "mqtt", ["broker"] = "hall" }),
                ["contacts"] = new JsonArray(
                    new JsonObject { ["name"] = "shift", ["channel"] = "hook" },
                    new JsonObject { ["name"] = "workshop", ["channel"] = "post", ["to"] = new JsonArray("workshop@riverbend.example") }),
                ["answerLinks"] = new JsonObject { ["listen"] = Loopback(port), ["public"] = Loopback(port) },
            });

        await File.WriteAllTextAsync(folder.File("jobs.csv"), $"job,material,section,part_length,standard\n{SmallSaw.Job},1045,rect 20 x 40 mm,120 mm,60 cm2/min\n");

        long number;
        await using (var gateway = folder.Start())
        {
            await gateway.UntilAsync(() => Told(hook).Count > 0, "the webhook is called");
            await gateway.UntilAsync(() => mail.Received().Count > 0, "a mail has come");
            await gateway.UntilAsync(async () => (await StateAsync(broker))?.GetProperty("state").GetString() == "unacknowledged", "the broker holds the state");
            await gateway.UntilAsync(async () => await influx.NumberAsync("SELECT count(alarm) FROM alarm", "plant") >= 1, "the event is a point");
            var alarm = Assert.Single(Told(hook));
            number = alarm.GetProperty("number").GetInt64();
            Assert.Equal(("high", "saw-1", "blade_gone"), (alarm.GetProperty("severity").GetString(), alarm.GetProperty("subject").GetString(), alarm.GetProperty("cause").GetString()));
            Assert.Contains("lock out and tag out", alarm.GetProperty("caution").GetString(), StringComparison.Ordinal);
            Assert.All(hook.Requests, IsSigned);

            var letter = mail.Received()[0];
            Assert.Empty(letter.Defects);
            Assert.Equal(["workshop@riverbend.example"], letter.Recipients);
            Assert.Contains("saw-1", letter.Subject, StringComparison.Ordinal);
            Assert.Contains("lock out and tag out", letter.Text("text/plain"), StringComparison.Ordinal);
            await gateway.UntilAsync(() => folder.History.Cycles().Count == 1, "the cut is recorded");
            await gateway.KillAsync();
        }

        await using var next = folder.Start();
        await next.LogsAsync(Continued);
        using var client = new HttpClient();
        var link = Told(hook)[0].GetProperty("links").GetProperty("acknowledge").GetString()!;
        await next.UntilAsync(async () => await OpensAsync(client, link), "the link can be opened");
        Assert.Equal("unacknowledged", (await StateAsync(broker))!.Value.GetProperty("state").GetString());

        using var pressed = await client.PostAsync(new Uri(link), new FormUrlEncodedContent([KeyValuePair.Create("note", "new blade fetched")]));
        Assert.Equal(HttpStatusCode.OK, pressed.StatusCode);
        using var again = await client.PostAsync(new Uri(link), new FormUrlEncodedContent([]));
        Assert.Equal(HttpStatusCode.Gone, again.StatusCode);
        await next.UntilAsync(async () => (await StateAsync(broker))?.GetProperty("state").GetString() == "acknowledged", "the broker holds the new state");
        await next.UntilAsync(async () => await influx.NumberAsync("SELECT count(alarm) FROM alarm", "plant") >= 2, "both events are points");
        Assert.Equal(0, await next.EndAsync());

        // Told once, by each way, though the gateway lost its power in between.
        Assert.Single(Told(hook));
        Assert.Single(mail.Received());
        var points = await influx.QueryAsync("SELECT * FROM alarm WHERE \"rule\" = 'blade_gone'", "plant");
        Assert.Equal(["raised", "acknowledged"], points.Select(point => point["event"].GetString()));
        Assert.All(points, point => Assert.Equal(number, point["alarm"].GetInt64()));
        var alarmRow = Assert.Single(folder.History.Alarms(), row => row.Text("rule") == "blade_gone");
        Assert.Equal(("acknowledged", "shift"), (alarmRow.Text("state"), alarmRow.Text("acknowledged_by")));
        Assert.Equal("ok", await folder.History.IntegrityAsync());
    }

    private const int Continued = 3205;

    // Stock that is high enough for the live watch to see that the blade is gone before the controller stops the head.
    private static VirtualSawOptions Saw
    {
        get
        {
            var small = SmallSaw.Named("saw-1", 61, new BladeBreak(FaultTrigger.AtCycle(1), 0.4));
            return small with { Machine = small.Machine with { RestHeightMm = 75 }, Jobs = [small.Jobs[0] with { Section = SectionFactory.Rectangle(20, 40) }] };
        }
    }

    private static string Loopback(int port) => string.Create(CultureInfo.InvariantCulture, $"http://127.0.0.1:{port}/");

    /// <summary>Alarms about the blade that the receiver was told were raised.</summary>
    private static List<JsonElement> Told(HookReceiver hook) =>
        [.. hook.Requests.Select(request => JsonDocument.Parse(request.Text).RootElement)
            .Where(message => message.GetProperty("type").GetString() is "alarm.raised" or "alarm.digest")
            .DistinctBy(message => message.GetProperty("data").GetProperty("id").GetString())
            .SelectMany(message => message.GetProperty("data").GetProperty("alarms").EnumerateArray())
            .Where(alarm => alarm.GetProperty("rule").GetString() == "blade_gone")];

    // As the Standard Webhooks specification says it, worked out apart from the product.
    private static void IsSigned(HookReceiver.Request request)
    {
        var signed = $"{request.Headers["webhook-id"]}.{request.Headers["webhook-timestamp"]}.{request.Text}";
        var expected = "v1," + Convert.ToBase64String(HMACSHA256.HashData(Encoding.UTF8.GetBytes(Secret), Encoding.UTF8.GetBytes(signed)));
        Assert.Equal(expected, request.Headers["webhook-signature"]);
    }

    private static async Task<bool> OpensAsync(HttpClient client, string link)
    {
        try
        {
            using var opened = await client.GetAsync(new Uri(link));
            return opened.StatusCode == HttpStatusCode.OK;
        }
        catch (HttpRequestException)
        {
            return false;
        }
    }

    // What somebody is told who subscribes only now.
    private static async Task<JsonElement?> StateAsync(MosquittoBroker broker)
    {
        var (_, output) = await Peer.RunAsync("mosquitto_sub", ["-h", "127.0.0.1", "-p", broker.Port.ToString(CultureInfo.InvariantCulture), "-t", "sawedge/Tarn Quay/hall-1/alarm/saw/saw-1/blade_gone", "-C", "1", "-W", "2"]);
        return output.TrimStart().StartsWith('{') ? JsonDocument.Parse(output).RootElement : null;
    }
}

/// <summary>One dead connection silences three saws: one message, which survives a power cut, and one that it is over.</summary>
public sealed class DeadConnectionTests
{
    private const int SawTroubleBegins = 2103;

    // All in one request: of a poll in two, the first half may have been answered before the line died, and is news when the second is given up.
    private const string Signals = """
        {
          "head_position": { "address": "holding 0", "type": "int16", "unit": "0.1 mm" },
          "blade_speed": { "address": "holding 1", "type": "uint16", "unit": "0.1 m/min" },
          "motor_load": { "address": "holding 2", "type": "float32" },
          "part_count": { "address": "holding 4", "type": "uint32" }
        }
        """;

    [Fact]
    public async Task ConnectionDies_OneMessageForThreeSaws_OverAPowerCut_AndOneWhenItIsBack()
    {
        await using var hook = new HookReceiver();
        var clock = new SawClock(held: true);
        await using var device = ModbusTcpServer.Start(Enumerable.Range(1, 3).ToDictionary(unit => (byte)unit, unit => new ModbusUnit(Live(unit, clock), RegisterLayout.Plain)));
        await using var mutable = new MutableDevice(device.Port, silent: false);
        var port = Peer.FreePort();
        var url = string.Create(CultureInfo.InvariantCulture, $"http://127.0.0.1:{port}/");
        using var folder = new GatewayFolder()
            .WithDevice("plc", mutable.Port, responseTimeout: "9 s")
            .WithSaw("saw-1", "plc", 1, Signals)
            .WithSaw("saw-2", "plc", 2, Signals)
            .WithSaw("saw-3", "plc", 3, Signals)
            .With("alarms", new JsonObject
            {
                // The cause first, as in the program's own rules: each saw is silent a little longer than the last of them, which is what tells of the source.
                ["rules"] = new JsonArray(
                    JsonNode.Parse("""{ "name": "source_disconnected", "on": "communication", "communication": "disconnected", "above": "6 s", "offDelay": "10 s", "silences": true }"""),
                    JsonNode.Parse("""{ "name": "saw_silent", "on": "communication", "communication": "silence", "above": "9 s" }""")),
                ["channels"] = new JsonArray(new JsonObject { ["name"] = "hook", ["kind"] = "webhook", ["url"] = hook.Url.ToString() }),
                ["contacts"] = new JsonArray(new JsonObject { ["name"] = "shift", ["channel"] = "hook", ["tellCleared"] = true }),
                ["answerLinks"] = new JsonObject { ["listen"] = url, ["public"] = url },
            });
        await using (var gateway = folder.Start())
        {
            await gateway.UntilAsync(() => device.Requests > 12, "the gateway polls");
            mutable.Silent = true;
            await gateway.UntilAsync(() => hook.Requests.Count > 0, "the webhook is called");
            await gateway.UntilAsync(() => folder.History.Alarms().Count == 4, "the saws' own alarms are kept");
            await gateway.KillAsync();
        }

        // Long enough that the new process knows by itself that nothing comes.
        await using var next = folder.Start();
        await next.LogsAsync(SawTroubleBegins);
        using var client = new HttpClient();
        var link = Messages(hook)[0].GetProperty("data").GetProperty("alarms")[0].GetProperty("links").GetProperty("acknowledge").GetString()!;
        using var pressed = await client.PostAsync(new Uri(link), new FormUrlEncodedContent([]));
        Assert.Equal(HttpStatusCode.OK, pressed.StatusCode);
        Assert.Equal(["acknowledged", "suppressed_by_design", "suppressed_by_design", "suppressed_by_design"], folder.History.Alarms().Select(alarm => alarm.Text("state")));
        Assert.Single(Messages(hook));

        mutable.Silent = false;
        await next.UntilAsync(() => Messages(hook).Count > 1, "it is told that it is over");
        Assert.Equal(0, await next.EndAsync());

        var messages = Messages(hook);
        Assert.Equal(["alarm.raised", "alarm.cleared"], messages.Select(message => message.GetProperty("type").GetString()));
        foreach (var message in messages)
        {
            var alarm = Assert.Single(message.GetProperty("data").GetProperty("alarms").EnumerateArray());
            Assert.Equal(("source", "plc"), (alarm.GetProperty("subjectKind").GetString(), alarm.GetProperty("subject").GetString()));
        }

        Assert.Equal(4, folder.History.Alarms().Count);
    }

    // A power cut between the receiver's yes and the disk makes a message go out again, with the identity that tells receivers so.
    private static List<JsonElement> Messages(HookReceiver hook) =>
        [.. hook.Requests.DistinctBy(request => request.Headers["webhook-id"]).Select(request => JsonDocument.Parse(request.Text).RootElement)];

    private static LiveSaw Live(int unit, SawClock clock) => new(new VirtualSaw(SmallSaw.Named(string.Create(CultureInfo.InvariantCulture, $"saw-{unit}"), (ulong)(70 + unit))), clock);
}
