using SawEdge.Core.Signals;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Gateway.Tests.History;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>What the gateway writes to is away: the server, the disk.</summary>
public sealed class ServerOutageTests
{
    private const int NothingIsTaken = 5002;
    private const int LastDelivery = 3507;

    [PeerFact(InfluxServer.Program)]
    public async Task ServerIsAwayUntilAfterTheStop_NothingIsLost_AndTheNextStartDeliversIt()
    {
        await using var influx = await InfluxServer.StartAsync("plant");
        await influx.KillAsync();
        var clock = new SawClock(held: true);
        var saw = new LiveSaw(new VirtualSaw(SmallSaw.Named("saw-1", 51)), clock);
        await using var device = ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit> { [1] = new(saw, RegisterLayout.Plain) });
        using var folder = new GatewayFolder().WithDevice("plc", device.Port).WithSaw("saw-1", "plc", 1).WithInflux1(influx, "plant");
        await using (var first = folder.Start())
        {
            await first.UntilAsync(() => device.Requests > 4, "the gateway polls");
            clock.Release();
            await first.UntilAsync(() => folder.History.Cycles().Count == 1, "the cut is in the history");
            clock.Hold();
            await first.LogsAsync(NothingIsTaken);
            Assert.Equal(0, await first.EndAsync());
            Assert.Equal(1, first.Count(NothingIsTaken));
            Assert.Equal(1, first.Count(LastDelivery));
        }

        await influx.StartAgainAsync();
        await using var second = folder.Start();
        await Delivered.AllAsync(second, influx, "plant", 1);
        Assert.Equal(0, await second.EndAsync());
        await Delivered.IsTheHistoryAsync(influx, "plant", folder.History);
    }
}

/// <inheritdoc cref="ServerOutageTests"/>
public sealed class FullDiskTests
{
    private const int StorageTrouble = 4001;
    private const int StorageRecovered = 4002;

    [TmpfsFact]
    public async Task DiskIsFullForAWhile_IsSaidOnce_AndTheCutIsStoredWhenThereIsRoom()
    {
        using var disk = TmpfsFactAttribute.Mount(megabytes: 4);
        var clock = new SawClock(held: true);
        var saw = new LiveSaw(new VirtualSaw(SmallSaw.Named("saw-1", 52)), clock);
        await using var device = ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit> { [1] = new(saw, RegisterLayout.Plain) });
        using var folder = new GatewayFolder().WithDevice("plc", device.Port).WithSaw("saw-1", "plc", 1).With("dataFolder", disk.Path);
        var history = new HistoryFile(disk.Path);
        await using var gateway = folder.Start();
        await gateway.UntilAsync(() => device.Requests > 4, "the gateway polls");

        Fill(disk);
        clock.Release();
        await gateway.LogsAsync(StorageTrouble);
        await gateway.UntilAsync(() => saw.TryRead(out var frame) && frame.Number(Signal.PartCount) > 1200 && frame.Flag(Signal.CycleActive) == false, "the cycle is over");
        clock.Hold();
        Assert.Empty(history.Cycles());

        File.Delete(Path.Combine(disk.Path, "filler"));
        await gateway.UntilAsync(() => history.Cycles().Count == 1, "the cut is in the history");
        Assert.Equal("completed", history.Cycles()[0].Outcome);
        Assert.Equal((1, 1), (gateway.Count(StorageTrouble), gateway.Count(StorageRecovered)));

        // Full again at the stop: it ends all the same, well before a service manager loses patience, and says what that means.
        Fill(disk);
        Assert.Equal(2, await gateway.EndAsync());
        Assert.StartsWith($"Stopped although the history in '{disk.Path}' could not be written", gateway.Log[^1].Message, StringComparison.Ordinal);
        Assert.Equal("Critical", gateway.Log[^1].Level);

        // What was acknowledged is whole.
        File.Delete(Path.Combine(disk.Path, "filler"));
        Assert.Equal("completed", Assert.Single(history.Cycles()).Outcome);
    }

    private static void Fill(SmallDisk disk)
    {
        using var file = new FileStream(Path.Combine(disk.Path, "filler"), FileMode.Create, FileAccess.Write, FileShare.None, bufferSize: 0);
        try
        {
            while (true)
                file.Write(new byte[4096]);
        }
        catch (IOException)
        {
            // Full.
        }
    }
}
