using System.Globalization;
using System.Text.Json;
using SawEdge.Gateway.Commands;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Commands.Commissioning;
using SawEdge.Gateway.Tests.Acquisition.Modbus;
using SawEdge.Gateway.Tests.Configuration;
using SawEdge.Modbus.Tests.Peers;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Commands.Commissioning;

/// <summary><c>watch</c> before real devices and brokers.</summary>
public sealed class WatchCommandTests
{
    private const string HeadAndLoad = """ "head_position": { "address": "holding 0", "type": "uint16", "unit": "0.1 mm" }, "motor_load": { "address": "holding 1", "type": "float32", "unit": "kW", "maximum": "30 kW" } """;

    [PeerFact(ModbusPeers.Python, ModbusPeers.Pymodbus)]
    public async Task Watch_TypedValuesOfPymodbus_ShowsRawWordsAndDecodedValues()
    {
        using var folder = new TempFolder();
        var port = Peer.FreePort();
        await using var server = await ModbusPeers.StartPymodbusAsync(port);
        var file = Commissioned.Configure(folder, port, """
            "head_position": { "address": "holding 130", "type": "float32" }, "motor_load": { "address": "holding 132", "type": "float32", "order": "cdab", "unit": "kW", "maximum": "30 kW" },
            "part_count": { "address": "holding 116", "type": "uint32", "order": "dcba" }, "cutting": { "address": "coil 3" }, "job": { "address": "holding 200", "type": "ascii", "registers": 16 },
            "fault_code": { "address": "holding 4000", "type": "uint16" }
            """);
        var (code, output) = await Commissioned.WatchUntilAsync(block => block.Any(line => line.StartsWith("head_position", StringComparison.Ordinal) && line.Contains(" good ", StringComparison.Ordinal)), "north", "--config", file);
        Assert.Equal(ExitCodes.Done, code);
        Assert.False(Directory.Exists(folder.File("data")));
        Assert.Equal($"north: plc, 127.0.0.1:{port}, unit 1", output[0][..^9].TrimEnd());
        Assert.Matches("^head_position   holding 130   42F6 E979 +[0-9.]+ s good    123[.]46 mm  123[.]46  123[.]46$", Line(output, "head_position"));
        Assert.Matches("^motor_load      holding 132   E979 42F6 +[0-9.]+ s OUT +- +- +-$", Line(output, "motor_load"));
        Assert.Contains("  out of range: 123.46 kW is above the maximum of 30.00 kW in the configuration", output);
        Assert.Contains("3735928559", Line(output, "part_count"), StringComparison.Ordinal);
        Assert.Matches("^cutting         coil 3        1  +[0-9.]+ s good          yes$", Line(output, "cutting"));
        Assert.EndsWith("BAR-4711 / S235JR", Line(output, "job"), StringComparison.Ordinal);
        Assert.Matches("^fault_code .* GONE ", Line(output, "fault_code"));
        Assert.Contains("illegal data address", string.Join(' ', output.Select(line => line.Trim())), StringComparison.Ordinal);
        Assert.Matches("reading   every 50 ms with [0-9]+ requests; an answer takes", string.Join('\n', output));
    }

    [Fact]
    public async Task Watch_OneSawOfADevice_TheOthersAreNotRead()
    {
        await using var device = Device();
        using var folder = new TempFolder();
        await Commissioned.WatchUntilAsync(_ => device.Requests.Count > 20, "north", "--config", Commissioned.Configure(folder, device.Port, HeadAndLoad));
        Assert.All(device.Requests, request => Assert.Equal((1, 3), (request.Unit, request.Function)));
    }

    [Fact]
    public async Task Json_EachSecond_IsOneObjectALine()
    {
        await using var device = Device();
        using var folder = new TempFolder();
        var (code, output, _) = await Commissioned.RunAsync("watch", "north", "--config", Commissioned.Configure(folder, device.Port, HeadAndLoad), "--for", "2.2", "--format", "json");
        Assert.Equal(ExitCodes.Done, code);
        Assert.InRange(output.Length, 1, 4);
        using var json = JsonDocument.Parse(output[^1]);
        var root = json.RootElement;
        Assert.Equal("north", root.GetProperty("saw").GetString());
        var head = root.GetProperty("signals").GetProperty("head_position");
        Assert.Equal(("holding 0", "0BB8", 300.0, "mm", "good"), (head.GetProperty("from").GetString(), head.GetProperty("raw").GetString(), head.GetProperty("value").GetDouble(), head.GetProperty("unit").GetString(), head.GetProperty("quality").GetString()));
        Assert.Equal("idle", root.GetProperty("cycle").GetProperty("phase").GetString());
        Assert.Equal(JsonValueKind.Null, root.GetProperty("cycle").GetProperty("last").ValueKind);
        Assert.Equal(1, root.GetProperty("polls").GetProperty("requests").GetInt32());
        Assert.Empty(root.GetProperty("troubles").EnumerateArray());
    }

    [Fact]
    public async Task Watch_NobodyListens_SaysSoOnceWithTheHintAndFails()
    {
        using var folder = new TempFolder();
        var (code, output, error) = await Commissioned.RunAsync("watch", "north", "--config", Commissioned.Configure(folder, Peer.FreePort(), HeadAndLoad), "--for", "1.5", "--plain");
        Assert.Equal(ExitCodes.Failed, code);
        Assert.Equal(["Nothing came from north."], error);
        var text = string.Join(' ', output.Select(line => line.Trim()));
        Assert.Contains("trouble   Device plc cannot be reached: no signals from north.", text, StringComparison.Ordinal);
        Assert.Contains("the connection was refused", text, StringComparison.Ordinal);
        Assert.Contains("the running gateway may be that one", text, StringComparison.Ordinal);
        Assert.Matches("^head_position   holding 0 +- GONE ", Line(output, "head_position"));
    }

    [Fact]
    public async Task Watch_UnitIsSilent_SaysWhatToCheck()
    {
        await using var device = Device();
        device.Silent[1] = true;
        using var folder = new TempFolder();
        var (_, output) = await Commissioned.WatchUntilAsync(block => block.Any(line => line.StartsWith("trouble", StringComparison.Ordinal)), "north", "--config", Commissioned.Configure(folder, device.Port, HeadAndLoad));
        var text = string.Join(' ', output.Select(line => line.Trim()));
        Assert.Contains("trouble   Saw north gets no or not all signals.", text, StringComparison.Ordinal);
        Assert.Contains("no answer within 1 s. Check the unit identifier", text, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("There is no saw 'nort'; did you mean 'north'?", "nort")]
    [InlineData("--for: a number of seconds above 0 is wanted.", "north", "--for", "0")]
    public async Task Watch_WrongWords_AreRefusedWithOneSentence(string expected, params string[] arguments)
    {
        using var folder = new TempFolder();
        var (code, output, error) = await Commissioned.RunAsync(["watch", .. arguments, "--config", Commissioned.Configure(folder, 1502, HeadAndLoad)]);
        Assert.Equal([expected], error);
        Assert.Equal(ExitCodes.WrongInput, code);
        Assert.Empty(output);
    }

    [Fact]
    public async Task Watch_AFlagFromConditions_IsShownWithThem()
    {
        await using var device = Device();
        using var folder = new TempFolder();
        var file = Commissioned.Configure(folder, device.Port, HeadAndLoad);
        await File.WriteAllTextAsync(file, (await File.ReadAllTextAsync(file)).Replace("\"name\": \"north\",", """ "name": "north", "derived": { "cutting": { "when": [ "motor_load above 0.5 kW" ] } }, """, StringComparison.Ordinal));
        var (_, block) = await Commissioned.WatchUntilAsync(block => block.Any(line => line.StartsWith("cutting", StringComparison.Ordinal) && line.EndsWith(" yes", StringComparison.Ordinal)), "north", "--config", file);
        Assert.Contains("  from conditions: motor_load above 0.50 kW", block);
        Assert.True(block.Any(line => line.StartsWith("cycle     In a cut since ", StringComparison.Ordinal)), string.Join("\n", block));
    }

    [PeerFact("mosquitto")]
    public async Task Watch_MembersOfAPayload_ShowsThemAsTheyAreWritten()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        using var folder = new TempFolder();
        const string Job = """ "Job": "\u001b[2J[red]OB\u0007-1180\u202e" """;
        var (code, output) = await Commissioned.WatchUntilAsync(
            async block =>
            {
                // Published again and again: the first may come before it listens. Once the first is there, only the second, so that it is the last.
                var position = block.Any(line => line.EndsWith("  231.40", StringComparison.Ordinal)) ? "230.9" : "231.4";
                await broker.PublishAsync("hall/yard", $$"""{ "Pos": {{position}}, "Drive": { "Power": "12.7" }, {{Job}} }""");
                return block.Any(line => line.EndsWith("230.90  231.40", StringComparison.Ordinal) && line.Contains("230.90 mm", StringComparison.Ordinal));
            },
            "yard", "--config", ConfigureMqtt(folder, broker.Port));
        Assert.Equal(ExitCodes.Done, code);
        Assert.StartsWith($"yard: hall, 127.0.0.1:{broker.Port}, topic hall/yard", output[0], StringComparison.Ordinal);
        Assert.Matches("^head_position   Pos           230.9 +[0-9.]+ s good    230[.]90 mm  230[.]90  231[.]40$", Line(output, "head_position"));

        // A text where a number is due: what came, and that it is none.
        Assert.Matches("^motor_load      Drive.Power   12.7 +[0-9.]+ s BAD ", Line(output, "motor_load"));
        Assert.Contains("  not usable: '12.7' is no number; check type and order", output);
        Assert.Contains("[2J[red]OB-1180", Line(output, "job"), StringComparison.Ordinal);
        Assert.All(output, line => Assert.DoesNotContain(line, c => char.IsControl(c) || c == '\u202E'));
    }

    [PeerFact("mosquitto")]
    public async Task Watch_BesideAClientWithTheGatewaysIdentifier_BothStay()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        using var folder = new TempFolder();
        await using var gateway = Peer.Start("mosquitto_sub", ["-h", "127.0.0.1", "-p", Commissioned.Text(broker.Port), "-i", "gateway-7", "-t", "hall/yard"]);
        await Until.TrueAsync(() => broker.Output.Contains("Sending SUBACK to gateway-7", StringComparison.Ordinal), "the other client listens");
        await Commissioned.WatchUntilAsync(_ => broker.Output.Contains($"Sending SUBACK to gateway-7-watch-{Environment.ProcessId}", StringComparison.Ordinal), "yard", "--config", ConfigureMqtt(folder, broker.Port));

        Assert.False(gateway.HasExited);
        await broker.PublishAsync("hall/yard", "still here");
        await gateway.PrintsAsync("still here");
        Assert.DoesNotContain("Received PUBLISH from gateway-7-watch", broker.Output, StringComparison.Ordinal);
        Assert.DoesNotContain("presence", broker.Output, StringComparison.Ordinal);
    }

    [Fact]
    public void OfOneSaw_ABrokerWithPresenceAndHost_SaysAndLeavesNothing()
    {
        using var folder = new TempFolder();
        var options = Sample.Load(folder, File.ReadAllText(ConfigureMqtt(folder, 1883))).Options();
        options = options with { MqttBrokers = [options.MqttBrokers[0] with { KeepSession = true, Sparkplug = new SparkplugHostOptions { HostId = "host", Rebirth = true } }] };
        var one = Assert.Single(WatchSession.OfOneSaw(options, options.Saws[0]).MqttBrokers);
        Assert.Equal((false, null, null, false), (one.KeepSession, one.PresenceTopic, one.Sparkplug!.HostId, one.Sparkplug.Rebirth));
        Assert.StartsWith("gateway-7-watch-", one.ClientId, StringComparison.Ordinal);
    }

    private static RegisterDevice Device()
    {
        var device = new RegisterDevice();

        // 300.0 mm in tenths, 0.75 kW as a float.
        device.Set(0, 3000, 0x3F40, 0);
        return device;
    }

    private static string ConfigureMqtt(TempFolder folder, int port)
    {
        var file = folder.File("mqtt.json");
        File.WriteAllText(file, string.Create(CultureInfo.InvariantCulture, $$"""
            { "site": "Riverbend", "gateway": "g", "dataFolder": "data", "http": { "enabled": false },
              "brokers": [ { "name": "hall", "host": "127.0.0.1", "port": {{port}}, "clientId": "gateway-7", "presenceTopic": "riverbend/presence" } ],
              "saws": [ { "name": "yard", "source": "mqtt", "broker": "hall", "topic": "hall/{saw}", "interval": "100 ms", "signals": {
                "head_position": { "member": "Pos" }, "motor_load": { "member": "Drive.Power", "unit": "kW" }, "job": { "member": "Job" } } } ] }
            """));
        return file;
    }

    private static string Line(string[] output, string signal) => output.Last(line => line.StartsWith(signal + " ", StringComparison.Ordinal));
}
