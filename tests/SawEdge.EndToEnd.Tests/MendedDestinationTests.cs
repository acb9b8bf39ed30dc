using System.Text.Json.Nodes;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>A database that does not exist: an alarm says so, and the configuration is mended while the gateway runs.</summary>
public sealed class MendedDestinationTests
{
    private const int NeedsMending = 5003;
    private const int Recovered = 5004;
    private const int AlarmRaised = 3200;
    private const int AlarmCleared = 3201;
    private const int Taken = 3518;

    [PeerFact(InfluxServer.Program)]
    public async Task WrongDatabase_IsAnAlarm_AndMendedInTheConfiguration_WithoutARestart()
    {
        await using var influx = await InfluxServer.StartAsync("plant");
        var clock = new SawClock(held: true);
        var saw = new LiveSaw(new VirtualSaw(SmallSaw.Named("saw-1", 81)), clock);
        await using var device = ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit> { [1] = new(saw, RegisterLayout.Plain) });
        using var folder = new GatewayFolder().WithDevice("plc", device.Port).WithSaw("saw-1", "plc", 1).WithInflux1(influx, "plnat")
            .With("alarms", JsonNode.Parse("""{ "rules": [ { "name": "destination_refuses", "on": "gateway", "gateway": "destination_refuses", "text": "{subject}: {trouble}" } ] }""")!);
        await using var gateway = folder.Start();
        await gateway.UntilAsync(() => device.Requests > 4, "the gateway polls");
        clock.Release();
        await gateway.UntilAsync(() => folder.History.Cycles().Count == 1, "the cut is in the history");
        clock.Hold();
        await gateway.LogsAsync(NeedsMending);
        await gateway.LogsAsync(AlarmRaised);
        var raised = gateway.Log.First(entry => entry.EventId == AlarmRaised).Message;
        Assert.Contains("destination one: the bucket or database, the organisation or the address does not exist; create it or correct the name. The server said: database not found: \"plnat\" (status 404).", raised, StringComparison.Ordinal);

        var text = await File.ReadAllTextAsync(folder.Configuration);
        await File.WriteAllTextAsync(folder.Configuration, text.Replace("plnat", "plant", StringComparison.Ordinal));
        await gateway.LogsAsync(Taken);
        await Delivered.AllAsync(gateway, influx, "plant", 1);
        await gateway.LogsAsync(Recovered);
        await gateway.LogsAsync(AlarmCleared);

        Assert.Equal(0, await gateway.EndAsync());
        Assert.Equal((1, 1, 1), (gateway.Count(NeedsMending), gateway.Count(Recovered), gateway.Count(Taken)));
        await Delivered.IsTheHistoryAsync(influx, "plant", folder.History);
    }
}
