using System.Text.Json.Nodes;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Modbus.Tests.Peers;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>An edge node that is not ours plays recorded cuts of two saws as metrics that change; the built gateway finds them.</summary>
public sealed class SparkplugTests
{
    private const string Paho = "/usr/lib/python3/dist-packages/paho/mqtt/client.py";
    private const string Protobuf = "/usr/lib/python3/dist-packages/google/protobuf/__init__.py";

    private static readonly string[] Names = ["saw-1", "saw-2"];

    [PeerFact("mosquitto", ModbusPeers.Python, Paho, Protobuf, HistoryFile.Program)]
    public async Task CutsOfTwoDevices_AreInTheHistory()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        using var folder = new GatewayFolder()
            .With("brokers", new JsonArray(new JsonObject { ["name"] = "hall", ["host"] = "127.0.0.1", ["port"] = broker.Port, ["sparkplug"] = new JsonObject { ["rebirth"] = true } }))
            .With("saws", new JsonArray([.. Names.Select(Saw)]))
            .With("record", new JsonObject { ["folder"] = "recordings" });
        await using var gateway = folder.Start();
        await gateway.UntilAsync(() => gateway.Log.Any(line => line.EventId == 2200) && broker.Output.Contains("Sending SUBACK to", StringComparison.Ordinal), "the node is subscribed to");
        await using var played = await PlayedRecording.StartSparkplugAsync([.. Names.Select((name, i) => SmallSaw.Named(name, 31 + (ulong)i))], cycles: 2, broker.Port);

        var late = await played.EndedAsync();
        await gateway.UntilAsync(() => folder.History.Cycles().Count >= played.Truth.Count, "every played cycle is in the history");
        var cycles = folder.History.Cycles();
        Assert.Equal(played.Truth.Count, cycles.Count);
        Assert.All(Names, name => Assert.All(
            cycles.Where(cycle => cycle.Text("saw") == name).Zip(played.Truth.Where(truth => truth.Saw == name)),
            pair => PlayedCuts.IsTheTruth(pair.First, pair.Second, played, folder, late)));
        Assert.Equal(0, await gateway.EndAsync());
        Assert.DoesNotContain(gateway.Log, line => line.EventId is >= 2400 and < 2500);
    }

    private static JsonNode Saw(string name)
    {
        string[] signals = ["head_position", "motor_load", "blade_speed", "cycle_active", "cutting", "blade_running", "fault_code", "mode", "job", "part_count", "bar_id", "blade_id"];
        var mapped = new JsonObject();
        foreach (var signal in signals)
            mapped[signal] = new JsonObject { ["metric"] = $"Saw/{signal}" };
        return new JsonObject { ["name"] = name, ["source"] = "sparkplug", ["broker"] = "hall", ["nodeGroup"] = "Riverbend", ["node"] = "hall-1-edge", ["device"] = name, ["interval"] = "50 ms", ["signals"] = mapped };
    }
}
