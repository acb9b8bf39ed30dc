using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>The first of two gateways is killed, comes back, and is killed again.</summary>
public sealed class StandbyTests : TwoGateways
{
    [PeerFact("mosquitto", "mosquitto_sub", HistoryFile.Program)]
    public async Task FirstIsKilledInACutAndBetweenCuts_EachCycleWhoseStartWasSeenIsRecordedOnceByOneOfTheTwo()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        foreach (var (name, seed) in new[] { ("north", 71UL), ("south", 72UL) })
        {
            var options = SmallSaw.Named(name, seed);
            var clock = new SawClock();
            Saws.Add(name, (options, clock, new LiveSaw(new VirtualSaw(options), clock)));
        }

        await using var device = ModbusTcpServer.Start(Saws.Values.Select((saw, i) => (saw, i)).ToDictionary(pair => (byte)(pair.i + 1), pair => new ModbusUnit(pair.saw.Live, RegisterLayout.Plain)));
        Configure(First, broker.Port, device, "hall-1", "first", FirstTopic, SecondTopic);
        Configure(Second, broker.Port, device, "hall-1b", "second", SecondTopic, FirstTopic);

        await using var second = Second.Start();
        await using (var first = First.Start())
        {
            await first.LogsAsync(Watches);
            Unwatched.Add((DateTimeOffset.MinValue, Now.AddSeconds(1)));
            await first.UntilAsync(() => HaveEach(First, 1), "the first records");
            Assert.Equal("standby", await SaidAsync(broker, SecondTopic));
            Assert.Empty(Second.History.Cycles());
            await second.UntilAsync(async () => (await GatewayProcess.CommandAsync("status", "--config", Second.Configuration)).Output.Contains("stands by", StringComparison.Ordinal), "'sawedge status' says that it stands by");
            await first.UntilAsync(() => IsInCut("north"), "a saw is in its cut");
            await KillAndTakeOverAsync(first, second, times: 1);
        }

        await second.UntilAsync(() => HaveEach(Second, 1), "the second records");
        Assert.Equal("offline", await SaidAsync(broker, FirstTopic));
        Assert.Equal("active", await SaidAsync(broker, SecondTopic));
        await second.UntilAsync(() => IsInCut("south"), "a saw is in its cut");

        await using (var again = First.Start())
        {
            await HandBackAsync(again, second, times: 1);
            var before = First.History.Cycles().Count;
            await again.UntilAsync(() => First.History.Cycles().Count >= before + 3, "the first records again");
            Assert.Equal("standby", await SaidAsync(broker, SecondTopic));
            await again.UntilAsync(() => IsAtRest("north"), "a saw is between two cycles");
            await KillAndTakeOverAsync(again, second, times: 2);
        }

        var taken = Second.History.Cycles().Count;
        await second.UntilAsync(() => Second.History.Cycles().Count >= taken + 2, "the second records again");
        await using var last = First.Start();
        await HandBackAsync(last, second, times: 2);
        var back = First.History.Cycles().Count;
        await last.UntilAsync(() => First.History.Cycles().Count >= back + 2, "the first records once more");
        var ended = Now;
        Assert.Equal(0, await last.EndAsync());
        Assert.Equal(0, await second.EndAsync());
        Unwatched.Add((ended.AddSeconds(-12), DateTimeOffset.MaxValue));
        foreach (var saw in Saws.Keys)
            Holds(saw);
    }
}
