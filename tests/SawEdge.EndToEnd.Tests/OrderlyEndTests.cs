using SawEdge.Core.Signals;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>The gateway is stopped as service managers and people stop it, in the middle of a cut.</summary>
public sealed class OrderlyEndTests
{
    private const int Stopped = 3501;
    private const int EndedUncleanly = 3503;
    private const int CycleContinued = 3001;

    [PeerFact(HistoryFile.Program)]
    public async Task StoppedInACut_ItEndsClean_AndTheNextStartTakesTheCutUp()
    {
        var options = SmallSaw.Named("saw-1", 31);
        var clock = new SawClock(held: true);
        var saw = new LiveSaw(new VirtualSaw(options), clock);
        await using var device = ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit> { [1] = new(saw, RegisterLayout.Plain) });
        using var folder = new GatewayFolder().WithDevice("plc", device.Port).WithSaw("saw-1", "plc", 1);

        await using (var first = folder.Start())
        {
            await first.UntilAsync(() => device.Requests > 0, "the gateway polls");
            clock.Release();
            await first.UntilAsync(() => saw.TryRead(out var frame) && frame.Number(Signal.HeadPosition) < SmallSaw.HeightMm - 4, "the saw is in its cut");
            var asked = device.Requests;
            await first.UntilAsync(() => device.Requests > asked + 4, "that was polled");
            clock.Hold();
            Assert.Equal(0, await first.EndAsync("TERM"));
            Assert.Equal(Stopped, first.Log[^1].EventId);

            // Closed in order: no log of the database is left to be taken up.
            Assert.False(File.Exists(folder.History.Path + "-wal"));
            Assert.Empty(folder.History.Cycles());
            Assert.NotNull(folder.History.LastOpenPart("saw-1"));
        }

        await using var second = folder.Start();
        await second.LogsAsync(CycleContinued, "saw-1: continues the cycle that was open");
        clock.Release();
        await second.UntilAsync(() => folder.History.Cycles().Count == 1, "the cut is in the history");
        Assert.Equal(0, await second.EndAsync("INT"));
        Assert.Equal(Stopped, second.Log[^1].EventId);
        Assert.Equal(0, second.Count(EndedUncleanly));

        var cycle = Assert.Single(folder.History.Cycles());
        var truth = new VirtualSaw(options).Truth;
        Assert.Equal("completed", cycle.Outcome);
        Assert.InRange((cycle.Time("cut_started_at")!.Value - clock.WallOf(truth.Contact!.Value)!.Value).TotalSeconds, -0.4, 0.4);
        Assert.InRange((cycle.Time("cut_ended_at")!.Value - clock.WallOf(truth.Breakthrough!.Value)!.Value).TotalSeconds, -0.4, 0.4);
        Assert.Equal("ok", await folder.History.IntegrityAsync());
    }

    [Fact]
    public async Task SecondGatewayOnTheSameDataFolder_IsRefusedInOneMessage_AndTheFirstGoesOn()
    {
        var saw = new LiveSaw(new VirtualSaw(SmallSaw.Named("saw-1", 32)), new SawClock(held: true));
        await using var device = ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit> { [1] = new(saw, RegisterLayout.Plain) });
        using var folder = new GatewayFolder().WithDevice("plc", device.Port).WithSaw("saw-1", "plc", 1);
        await using var first = folder.Start();
        await first.UntilAsync(() => device.Requests > 0, "the gateway polls");

        var (exitCode, output) = await GatewayProcess.CommandAsync("run", folder.Configuration);
        Assert.Equal(2, exitCode);
        var line = Assert.Single(output.Split('\n', StringSplitOptions.RemoveEmptyEntries));
        Assert.Contains($"The data folder '{folder.File("data")}' is in use by another gateway (process ", line, StringComparison.Ordinal);
        Assert.EndsWith("Stop it, or give this one a data folder of its own.", line, StringComparison.Ordinal);

        var asked = device.Requests;
        await first.UntilAsync(() => device.Requests > asked + 10, "the first gateway goes on polling");
        Assert.Equal(0, await first.EndAsync());
    }
}
