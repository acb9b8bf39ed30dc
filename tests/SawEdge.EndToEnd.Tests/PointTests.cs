using System.Text.Json.Nodes;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>A gateway that is asked for every kind of points writes every kind.</summary>
public sealed class PointTests
{
    [PeerFact(InfluxServer.Program)]
    public async Task EveryKindOfPoints_IsWritten_AndWhatWasNotAskedForIsNot()
    {
        await using var influx = await InfluxServer.StartAsync("plant");
        await influx.QueryAsync("CREATE DATABASE \"usual\"");
        var clock = new SawClock(held: true);
        var saw = new LiveSaw(new VirtualSaw(SmallSaw.Named("saw-1", 53)), clock);
        await using var device = ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit> { [1] = new(saw, RegisterLayout.Plain) });
        using var folder = new GatewayFolder().WithDevice("plc", device.Port).WithSaw("saw-1", "plc", 1).With("signals", new JsonObject { ["every"] = "1 s" });
        JsonObject Destination(string name, string database) => new() { ["name"] = name, ["url"] = influx.Url.ToString(), ["version"] = 1, ["database"] = database, ["maximumWait"] = "100 ms" };
        var all = Destination("all", "plant");
        all["points"] = new JsonArray("cycles", "alarms", "states", "oee", "stops", "profiles", "signals", "gateway");
        folder.With("influx", new JsonArray(all, Destination("usual", "usual")));
        await using var gateway = folder.Start();
        await gateway.UntilAsync(() => device.Requests > 4, "the gateway polls");
        clock.Release();
        await Delivered.AllAsync(gateway, influx, "plant", 1);
        string[] wanted = ["cycle", "load_profile", "signal", "gateway", "gateway_saw", "gateway_destination"];
        await gateway.UntilAsync(async () => !wanted.Except(await MeasurementsAsync(influx, "plant")).Any(), "every kind is there");
        await gateway.UntilAsync(async () => (await MeasurementsAsync(influx, "usual")).Contains("gateway_destination"), "the usual kinds are there");
        clock.Hold();

        Assert.Equal(48, await influx.NumberAsync("SELECT count(time_s) FROM load_profile WHERE time < now() + 1d", "plant") / Math.Max(1, await influx.NumberAsync("SELECT count(distinct(cycle_id)) FROM load_profile", "plant")));
        Assert.True(await influx.NumberAsync("SELECT sum(frames) FROM gateway_saw WHERE saw = 'saw-1'", "plant") > 0);
        Assert.True(await influx.NumberAsync("SELECT max(max) FROM signal WHERE signal = 'motor_load'", "plant") > 0);
        Assert.Equal(["all", "usual"], (await influx.QueryAsync("SHOW TAG VALUES FROM gateway_destination WITH KEY = destination", "plant")).Select(row => row["value"].GetString()).Order());
        Assert.DoesNotContain("signal", await MeasurementsAsync(influx, "usual"));
        Assert.Contains("load_profile", await MeasurementsAsync(influx, "usual"));
        Assert.Equal(0, await gateway.EndAsync());
        Assert.DoesNotContain(gateway.Log, entry => entry.Level is "Error" or "Critical");
    }

    private static async Task<IReadOnlyCollection<string>> MeasurementsAsync(InfluxServer influx, string database) =>
        [.. (await influx.QueryAsync("SHOW MEASUREMENTS", database)).Select(row => row["name"].GetString()!)];
}
