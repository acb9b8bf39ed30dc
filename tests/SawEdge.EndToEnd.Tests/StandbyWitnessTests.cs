using System.Text.Json.Nodes;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>The first of two gateways is cut off from the broker and from nothing else.</summary>
public sealed class StandbyWitnessTests : TwoGateways
{
    [PeerFact("mosquitto", "mosquitto_sub", "socat", HistoryFile.Program)]
    public async Task FirstLosesNothingButTheBroker_SecondAsksItsPageAndDoesNotTakeOver_NoCycleIsRecordedTwice()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        var options = SmallSaw.Named("north", 73);
        var clock = new SawClock();
        Saws.Add("north", (options, clock, new LiveSaw(new VirtualSaw(options), clock)));
        await using var device = ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit> { [1] = new(Saws["north"].Live, RegisterLayout.Plain) });
        var (way, page) = (Peer.FreePort(), Peer.FreePort());
        Configure(First, way, device, "hall-1", "first", FirstTopic, SecondTopic);
        First.With("http", new JsonObject { ["listen"] = $"http://127.0.0.1:{page}" });
        Configure(Second, broker.Port, device, "hall-1b", "second", SecondTopic, FirstTopic, $"http://127.0.0.1:{page}");

        await using var second = Second.Start();
        await using (var first = First.Start())
        {
            await using (var relay = Peer.Start("socat", [$"TCP-LISTEN:{way},bind=127.0.0.1,fork,reuseaddr", $"TCP:127.0.0.1:{broker.Port}"]))
            {
                await first.LogsAsync(Watches);
                Unwatched.Add((DateTimeOffset.MinValue, Now.AddSeconds(1)));
                await first.UntilAsync(() => HaveEach(First, 1), "the first records");
                await relay.KillAsync();
            }

            // Its last will says that it is gone; its page says that it watches.
            await second.LogsAsync(OnlyTheBroker);
            Assert.Equal("offline", await SaidAsync(broker, FirstTopic));
            await first.UntilAsync(() => HaveEach(First, 3), "the first records on");
            Assert.Equal((0, "standby"), (second.Count(Watches), await SaidAsync(broker, SecondTopic)));
            await KillAndTakeOverAsync(first, second, times: 1);
        }

        await second.UntilAsync(() => HaveEach(Second, 1), "the second records");
        await using var again = First.Start();
        await HandBackAsync(again, second, times: 1);
        Assert.Equal("offline", await SaidAsync(broker, FirstTopic));
        var before = First.History.Cycles().Count;
        await again.UntilAsync(() => First.History.Cycles().Count >= before + 2, "the first records again, still without the broker");
        var ended = Now;
        Assert.Equal(0, await again.EndAsync());
        Assert.Equal(0, await second.EndAsync());
        Unwatched.Add((ended.AddSeconds(-12), DateTimeOffset.MaxValue));
        Holds("north", least: 4);
    }
}
