using System.Text.Json.Nodes;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;

namespace SawEdge.EndToEnd.Tests;

/// <summary>The program itself, whose configuration people edit while it runs: in place, and by a file that takes the place of the one before.</summary>
public sealed class ConfigurationTests
{
    private const int CycleContinued = 3001;
    private const int NotTaken = 3516;
    private const int GoodAgain = 3517;
    private const int PartTaken = 3560;
    private const int Stopped = 3562;
    private const int Started = 3563;

    [Fact]
    public async Task Edited_InPlaceAndByARename_IsTakenOver_TheFirstSawGoesOn_AndARestartFindsTheSame()
    {
        var clock = new SawClock();
        await using var device = ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit>
        {
            [1] = new(new LiveSaw(new VirtualSaw(SmallSaw.Named("saw-1", 91)), clock), RegisterLayout.Plain),
            [2] = new(new LiveSaw(new VirtualSaw(SmallSaw.Named("saw-2", 92)), clock), RegisterLayout.Plain),
        });
        using var folder = new GatewayFolder().WithDevice("plc", device.Port).WithSaw("saw-1", "plc", 1);
        await using var gateway = folder.Start();
        Task CutsAsync(string saw, int count) => gateway.UntilAsync(() => Cuts(folder, saw) >= count, $"{saw} has made {count} cuts");
        await CutsAsync("saw-1", 1);

        // By a rename, as editors do.
        folder.WithSaw(JsonNode.Parse("""{ "name": "saw-2", "like": "saw-1", "unit": 2 }""")!);
        var good = folder.Text;
        await File.WriteAllTextAsync(folder.File("sawedge.json~"), good);
        File.Move(folder.File("sawedge.json~"), folder.Configuration, overwrite: true);
        await gateway.LogsAsync(Started, "saw-2");
        await CutsAsync("saw-2", 1);

        // In place, and in two steps, as by somebody who saves too early.
        await File.WriteAllTextAsync(folder.Configuration, good[..^20]);
        await gateway.LogsAsync(NotTaken);
        folder.With("alarms", JsonNode.Parse("""{ "rules": [ { "name": "heavy", "on": "signal", "signal": "motor_load", "above": "0.05 kW" } ] }""")!);
        await File.WriteAllTextAsync(folder.Configuration, folder.Text);
        await gateway.LogsAsync(GoodAgain);
        await gateway.UntilAsync(() => gateway.Log.Any(line => line.EventId == 3200 && line.Message.Contains("rule 'heavy', saw-2", StringComparison.Ordinal)), "the alarm is raised by the new rule");

        // Gone again.
        folder.WithoutSaw("saw-2");
        folder.Write();
        await gateway.LogsAsync(Stopped, "saw-2");
        await CutsAsync("saw-1", Cuts(folder, "saw-1") + 1);
        Assert.Equal(1, device.Connections);
        Assert.Equal(["saw 'saw-2' was added", "rule 'heavy' was added", "saw 'saw-2' was removed"], gateway.Log.Where(line => line.EventId == PartTaken).Select(line => line.Message[(line.Message.IndexOf(": ", StringComparison.Ordinal) + 2)..]));
        Assert.Equal((1, 1, 1, 1), (gateway.Count(NotTaken), gateway.Count(GoodAgain), gateway.Count(Stopped), gateway.Count(Started)));
        Assert.Equal(0, await gateway.EndAsync());
        Assert.All(folder.History.Alarms().Where(alarm => alarm.Text("subject") == "saw-2"), alarm => Assert.Equal(1, alarm.Whole("closed")));
        Assert.Contains(folder.History.Alarms(), alarm => alarm.Text("subject") == "saw-1" && alarm.Whole("closed") == 0);
        var cycles = folder.History.Cycles("saw-1");

        // What a busy machine misses of a saw in real time is another matter; nothing was begun anew.
        Assert.Equal(cycles.Count, cycles.Select(cycle => cycle.Id).Distinct().Count());
        Assert.Equal(0, gateway.Count(CycleContinued, "saw-1"));

        await using var again = folder.Start();
        await again.UntilAsync(() => Cuts(folder, "saw-1") > cycles.Count, "it goes on after a start");
        Assert.Equal(0, again.Count(NotTaken));
        Assert.Equal(0, await again.EndAsync());
    }

    private static int Cuts(GatewayFolder folder, string saw) => folder.History.Cycles(saw).Count;
}
