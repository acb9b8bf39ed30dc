using System.Text.Json.Nodes;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Modbus.Tests.Peers;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>Three saws on one serial line, played by pymodbus over pseudo terminals; the built gateway polls them in turn.</summary>
public sealed class SharedLineTests
{
    private static readonly string[] Names = ["saw-1", "saw-2", "saw-3"];

    [PeerFact(ModbusPeers.Python, ModbusPeers.Pymodbus, ModbusPeers.Socat)]
    public async Task CutsOfThreeSaws_AreRecorded_AndTheLineMayBeUnpluggedInBetween()
    {
        using var ends = new TempFolder();
        await using var cable = await SerialCable.LayAsync(ends);
        await using var played = await PlayedRecording.StartRtuAsync(Saws(), cycles: 3, cable.Far);
        var line = ends.File("adapter");
        await using var adapter = await PlugInAsync(line, cable.Near);
        using var folder = Folder().WithLine("line-1", line);
        WithSaws(folder, "line-1");
        await using var gateway = folder.Start();

        // The adapter is pulled out after everybody's first cut, wherever the second ones are then, and comes back.
        await gateway.UntilAsync(() => Names.All(saw => folder.History.Cycles(saw).Count >= 1), "every saw has a cycle");
        await adapter.KillAsync();
        File.Delete(line);
        await gateway.LogsAsync(2101);
        await using var again = await PlugInAsync(line, cable.Near);
        await gateway.LogsAsync(2102);
        var late = await played.EndedAsync();
        await gateway.UntilAsync(() => Names.All(saw => folder.History.Cycles(saw).Any(cycle => cycle.Whole("part_count") == Truth(played, saw)[2].PartCount)), "every saw's last cycle is in the history");

        Assert.Contains($"{line} is polled for saw-1, saw-2, saw-3", gateway.Output, StringComparison.Ordinal);
        Assert.Contains("no signals from saw-1, saw-2, saw-3", Assert.Single(gateway.Log, entry => entry.EventId == 2101).Message, StringComparison.Ordinal);
        Assert.Equal(1, gateway.Count(2102));
        Assert.DoesNotContain(gateway.Log, entry => entry.EventId == 2103);
        foreach (var saw in Names)
        {
            var (cycles, truth) = (folder.History.Cycles(saw), Truth(played, saw));
            PlayedCuts.IsTheTruth(cycles[0], truth[0], played, folder, late);
            PlayedCuts.IsTheTruth(cycles[^1], truth[2], played, folder, late);
        }

        Assert.Equal(0, await gateway.EndAsync());
    }

    [PeerFact(ModbusPeers.Python, ModbusPeers.Pymodbus)]
    public async Task CutsOfThreeSaws_BehindASerialServer_AreRecorded()
    {
        await using var played = await PlayedRecording.StartRtuAsync(Saws(), cycles: 1);
        using var folder = Folder().WithSerialServer("server-1", played.Port);
        WithSaws(folder, "server-1");
        await using var gateway = folder.Start();
        var late = await played.EndedAsync();
        await gateway.UntilAsync(() => Names.All(saw => folder.History.Cycles(saw).Count >= 1), "every saw has its cycle");
        foreach (var saw in Names)
            PlayedCuts.IsTheTruth(Assert.Single(folder.History.Cycles(saw)), Assert.Single(Truth(played, saw)), played, folder, late);
        Assert.DoesNotContain(gateway.Log, entry => entry.EventId is 2101 or 2103);
        Assert.Equal(0, await gateway.EndAsync());
    }

    [PeerFact(ModbusPeers.Compiler, ModbusPeers.Libmodbus, ModbusPeers.Socat)]
    public async Task CutOfALibmodbusUnit_OnASerialLine_IsRecorded()
    {
        using var ends = new TempFolder();
        await using var cable = await SerialCable.LayAsync(ends);
        await using var played = await PlayedRecording.StartRtuAsync([SmallSaw.Named("saw-1", 31)], cycles: 1, cable.Far, libmodbus: true);
        using var folder = Folder().WithLine("line-1", cable.Near).WithSaw("saw-1", "line-1", PlayedRecording.Unit, PlayedRecording.Signals, "100 ms");
        await using var gateway = folder.Start();
        var late = await played.EndedAsync();
        await gateway.UntilAsync(() => folder.History.Cycles().Count >= 1, "its cycle is in the history");
        PlayedCuts.IsTheTruth(Assert.Single(folder.History.Cycles()), Assert.Single(played.Truth), played, folder, late);
        Assert.DoesNotContain(gateway.Log, entry => entry.EventId is 2101 or 2103);
        Assert.Equal(0, await gateway.EndAsync());
    }

    private static VirtualSawOptions[] Saws() => [.. Names.Select((name, i) => SmallSaw.Named(name, 21 + (ulong)i))];

    private static List<SawTruth> Truth(PlayedRecording played, string saw) => [.. played.Truth.Where(cycle => cycle.Saw == saw).OrderBy(cycle => cycle.Started)];

    private static GatewayFolder Folder() => new GatewayFolder().With("record", new JsonObject { ["folder"] = "recordings" });

    private static void WithSaws(GatewayFolder folder, string device)
    {
        foreach (var (i, name) in Names.Index())
            folder.WithSaw(name, device, PlayedRecording.Unit + i, PlayedRecording.SlowSignals, "200 ms");
    }

    /// <summary>Something between the gateway and the line that can be pulled out, as the adapter at a socket of the machine.</summary>
    private static async Task<Peer> PlugInAsync(string line, string cable)
    {
        var adapter = Peer.Start(ModbusPeers.Socat, [$"pty,raw,echo=0,link={line}", $"{cable},raw,echo=0"]);
        await Until.TrueAsync(() => File.Exists(line), () => $"the line is there; it printed {adapter.Output}");
        return adapter;
    }
}
