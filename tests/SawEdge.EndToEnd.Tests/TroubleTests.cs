using System.Text.Json.Nodes;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Modbus.Tests.Peers;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>
/// One gateway with everything that can be wrong about a device, beside one that is well: a device that is not there until later,
/// a unit that does not exist, one that falls silent and speaks again, a mapping that is refused.
/// </summary>
public sealed class TroubleTests
{
    private const int DeviceIsAway = 2101;
    private const int DeviceIsBack = 2102;
    private const int SawTroubleBegins = 2103;
    private const int SawTroubleEnds = 2104;
    private const int SignalIsRefused = 2105;
    private const int OneBladeOnTwoSaws = 3009;

    // A machine that is busy with other tests polls slower than asked for, and the gateway rightly says so.
    private const int PollsSlower = 2107;

    [Fact]
    public async Task EachTroubleIsSaidOnce_TouchesNobodyElse_AndPassesWithoutARestart()
    {
        var goodClock = new SawClock(held: true);
        var laterClock = new SawClock(held: true);
        var good = Live("good", 41, goodClock);
        var later = Live("later", 42, laterClock);
        await using var device = ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit> { [1] = new(good, RegisterLayout.Plain), [2] = new(Live("part", 43, goodClock), RegisterLayout.Plain) });
        await using var mutable = new MutableDevice(device.Port, silent: true);
        var laterPort = Peer.FreePort();
        var refused = JsonNode.Parse(PlainRegisters.Signals)!;
        refused["job"] = JsonNode.Parse("""{ "address": "holding 900", "type": "ascii", "registers": 8 }""");
        using var folder = new GatewayFolder()
            .WithDevice("plc", device.Port)
            .WithDevice("later", laterPort)
            .WithDevice("mute", mutable.Port, responseTimeout: "2 s")
            .WithSaw("good", "plc", 1)
            .WithSaw("part", "plc", 2, refused.ToJsonString())
            .WithSaw("nobody", "plc", 9)
            .WithSaw("later", "later", 1)
            .WithSaw("mute", "mute", 1);
        await using var gateway = folder.Start();

        // Everything that is wrong is said.
        await gateway.LogsAsync(DeviceIsAway, "Device later cannot be reached");
        await gateway.LogsAsync(SawTroubleBegins, "Saw nobody gets no or not all signals. ");
        await gateway.LogsAsync(SawTroubleBegins, "Saw mute gets no or not all signals. ");
        await gateway.LogsAsync(SignalIsRefused, "Saw part: job cannot be read and is left out; the other signals go on. ");

        // Two of them pass, while the saws that are well cut.
        mutable.Silent = false;
        goodClock.Release();
        await using var laterDevice = ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit> { [1] = new(later, RegisterLayout.Plain) }, laterPort);
        await gateway.LogsAsync(DeviceIsBack, "Device later is connected again after ");
        await gateway.LogsAsync(SawTroubleEnds, "Saw mute gets its signals again after ");
        await gateway.UntilAsync(() => laterDevice.Requests > 4, "the device that came later is polled");
        laterClock.Release();
        await gateway.UntilAsync(() => new[] { "good", "part", "later" }.All(saw => folder.History.Cycles(saw).Count > 0), "all three saws' cuts are in the history");
        goodClock.Hold();
        laterClock.Hold();
        Assert.Equal(0, await gateway.EndAsync());

        // Once each, over hundreds of polls; nothing else was warned of.
        Assert.True(device.Requests > 200);
        Assert.True(mutable.Swallowed > 0);
        Assert.Equal(1, gateway.Count(DeviceIsAway));
        Assert.Equal(1, gateway.Count(DeviceIsBack));
        Assert.Equal(2, gateway.Count(SawTroubleBegins));
        Assert.Equal(1, gateway.Count(SawTroubleEnds));
        Assert.Equal(1, gateway.Count(SignalIsRefused));

        // The saws play one recording, so that they name one blade, which is told too.
        int[] told = [DeviceIsAway, SawTroubleBegins, SignalIsRefused, OneBladeOnTwoSaws, PollsSlower];
        Assert.DoesNotContain(gateway.Log, line => line.Level is not ("Information" or "Debug") && !told.Contains(line.EventId));

        // What was seen is recorded, and nothing else: a job that cannot be read is no job.
        Assert.Equal("completed", folder.History.Cycles("good")[0].Outcome);
        Assert.Equal(SmallSaw.Job, folder.History.Cycles("good")[0].Text("job"));
        Assert.Equal("completed", folder.History.Cycles("part")[0].Outcome);
        Assert.Equal("", folder.History.Cycles("part")[0].Text("job") ?? "");
        Assert.False(folder.History.Cycles("part")[0].IsKnown("standard_cut_time_s"));
        Assert.Equal("completed", folder.History.Cycles("later")[0].Outcome);
        Assert.Empty(folder.History.Cycles("nobody"));
    }

    private static LiveSaw Live(string name, ulong seed, SawClock clock) => new(new VirtualSaw(SmallSaw.Named(name, seed)), clock);
}

/// <summary>Values that are none, in the middle of a cut.</summary>
public sealed class BadValueTests
{
    [PeerFact(ModbusPeers.Python, ModbusPeers.Pymodbus)]
    public async Task NaNAndOutOfRange_AreMarkedBad_AndTheCutIsStillFound()
    {
        var saw = SmallSaw.Named("saw-1", 13);
        var contact = new VirtualSaw(saw).Truth.Contact!.Value;
        await using var played = await PlayedRecording.StartAsync(libmodbus: false, saw, cycles: 1, change: (row, time) =>
        {
            // Half a second of a load that is no number, then half a second of a head transducer off its scale: 3276.7 mm.
            var inCut = (time - contact).TotalSeconds;
            if (inCut is > 1 and < 1.5)
                row["motor_load"] = "nan";
            else if (inCut is > 2 and < 2.5)
                row["head_position"] = "3276.7";
        });
        using var folder = new GatewayFolder().WithDevice("plc", played.Port).WithSaw("saw-1", "plc", PlayedRecording.Unit, PlayedRecording.Signals).With("record", new JsonObject { ["folder"] = "recordings" });
        await using var gateway = folder.Start();
        var late = await played.EndedAsync();
        await gateway.UntilAsync(() => folder.History.Cycles().Count == 1, "the cut is in the history");
        Assert.Equal(0, await gateway.EndAsync());

        var truth = Assert.Single(played.Truth);
        var cycle = Assert.Single(folder.History.Cycles());
        Assert.Equal("completed", cycle.Outcome);
        Assert.Equal(truth.CutTimeS!.Value, cycle.Number("cut_time_s"), 0.4 + (2 * late.TotalSeconds));
        Assert.InRange(cycle.Number("peak_load_kw"), cycle.Number("mean_load_kw"), 6);
        Assert.True(double.IsFinite(cycle.Number("cutting_energy_kj")));

        // In the frames: not a number where it was none, and no value that nobody believes.
        var rows = (await File.ReadAllLinesAsync(Assert.Single(Directory.GetFiles(folder.File("recordings"))))).Select(line => line.Split(',')).ToList();
        var (load, head) = (Array.IndexOf(rows[0], "motor_load"), Array.IndexOf(rows[0], "head_position"));
        Assert.InRange(rows.Skip(1).Count(row => row[load] == "NaN"), 2, 40);
        Assert.InRange(rows.Skip(1).Count(row => row[head] == "NaN"), 2, 40);
        Assert.DoesNotContain(rows, row => row[head].StartsWith("3276", StringComparison.Ordinal));
        Assert.DoesNotContain(gateway.Log, line => line.Level is not ("Information" or "Debug"));
    }
}
