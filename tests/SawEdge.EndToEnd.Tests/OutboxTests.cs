using System.Globalization;
using System.Text.Json;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>A server refuses a cycle, is mended, loses everything and gets it again: the commands as processes beside a running gateway.</summary>
public sealed class OutboxTests
{
    private const int SetAside = 5005;

    [PeerFact(InfluxServer.Program)]
    public async Task RefusedCycle_IsListedAndSentAgain_AndAServerThatLostEverythingIsFilled_WhileTheGatewayRuns()
    {
        await using var influx = await InfluxServer.StartAsync("plant");
        using (var http = new HttpClient())
        using (var body = new StringContent(string.Create(CultureInfo.InvariantCulture, $"cycle,site=x outcome=5i {TimeProvider.System.GetUtcNow().ToUnixTimeMilliseconds()}")))
            (await http.PostAsync(new Uri(influx.Url, "/write?db=plant&precision=ms"), body)).EnsureSuccessStatusCode().Dispose();
        var clock = new SawClock(held: true);
        var saw = new LiveSaw(new VirtualSaw(SmallSaw.Named("saw-1", 71)), clock);
        await using var device = ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit> { [1] = new(saw, RegisterLayout.Plain) });
        using var folder = new GatewayFolder().WithDevice("plc", device.Port).WithSaw("saw-1", "plc", 1).WithInflux1(influx, "plant");
        await using var gateway = folder.Start();
        await gateway.UntilAsync(() => device.Requests > 4, "the gateway polls");
        clock.Release();
        await gateway.LogsAsync(SetAside);
        clock.Hold();
        var cycle = folder.History.Cycles()[0].Id;

        var listed = await GatewayProcess.GoodCommandAsync("outbox", "list", "one", "--config", folder.Configuration);
        Assert.Contains($"cycle {cycle}", listed, StringComparison.Ordinal);
        Assert.Contains("field type conflict", listed, StringComparison.Ordinal);
        var (code, refused) = await GatewayProcess.CommandAsync("outbox", "drop", "one", "--config", folder.Configuration);
        Assert.Equal(1, code);
        Assert.Contains("add --yes", refused, StringComparison.Ordinal);

        await EmptyAsync(influx);
        Assert.Contains("The gateway that runs there sends them", (await GatewayProcess.GoodCommandAsync("outbox", "retry", "one", "--config", folder.Configuration)).ReplaceLineEndings(" "), StringComparison.Ordinal);
        await gateway.UntilAsync(async () => (await influx.QueryAsync($"SELECT frames FROM cycle WHERE cycle_id = '{cycle}'", "plant")).Count == 1, "the cycle is delivered");
        Assert.Contains("one: nothing is set aside.", await GatewayProcess.GoodCommandAsync("outbox", "list", "--config", folder.Configuration), StringComparison.Ordinal);

        await EmptyAsync(influx);
        await GatewayProcess.GoodCommandAsync("outbox", "again", "one", "--config", folder.Configuration);
        await Delivered.IsTheHistoryAsync(influx, "plant", folder.History);

        using var status = JsonDocument.Parse(await GatewayProcess.GoodCommandAsync("outbox", "status", "--format", "json", "--config", folder.Configuration));
        var one = status.RootElement.GetProperty("destinations")[0];
        Assert.True(status.RootElement.GetProperty("gateway_running").GetBoolean());
        Assert.Equal(("one", 0, 0), (one.GetProperty("name").GetString(), one.GetProperty("waiting_cycles").GetInt32(), one.GetProperty("set_aside").GetInt32()));
        Assert.Equal(0, await gateway.EndAsync());
    }

    private static async Task EmptyAsync(InfluxServer influx)
    {
        await influx.QueryAsync("DROP DATABASE plant");
        await influx.QueryAsync("CREATE DATABASE plant");
    }
}
