using System.Text.Json.Nodes;
using SawEdge.Core.Signals;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>Two built gateways on one set of saws, a real broker between them; the first is killed, comes back, and is killed again.</summary>
public sealed class StandbyTests : IDisposable
{
    private const int Watches = 3572;
    private const int StandsBy = 3575;
    private const int Yields = 3574;
    private const string FirstTopic = "riverbend/gateways/hall-1";
    private const string SecondTopic = "riverbend/gateways/hall-1b";
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(120);

    private readonly Dictionary<string, (VirtualSawOptions Options, SawClock Clock, LiveSaw Live)> _saws = [];
    private readonly GatewayFolder _first = new();
    private readonly GatewayFolder _second = new();
    private readonly List<(DateTimeOffset From, DateTimeOffset To)> _unwatched = [];

    [PeerFact("mosquitto", "mosquitto_sub", HistoryFile.Program)]
    public async Task FirstIsKilledInACutAndBetweenCuts_EachCycleWhoseStartWasSeenIsRecordedOnceByOneOfTheTwo()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        foreach (var (name, seed) in new[] { ("north", 71UL), ("south", 72UL) })
        {
            var options = SmallSaw.Named(name, seed);
            var clock = new SawClock();
            _saws.Add(name, (options, clock, new LiveSaw(new VirtualSaw(options), clock)));
        }

        await using var device = ModbusTcpServer.Start(_saws.Values.Select((saw, i) => (saw, i)).ToDictionary(pair => (byte)(pair.i + 1), pair => new ModbusUnit(pair.saw.Live, RegisterLayout.Plain)));
        Configure(_first, broker, device, "hall-1", "first", FirstTopic, SecondTopic);
        Configure(_second, broker, device, "hall-1b", "second", SecondTopic, FirstTopic);

        await using var second = _second.Start();
        await using (var first = _first.Start())
        {
            await first.LogsAsync(Watches, within: Patience);
            _unwatched.Add((DateTimeOffset.MinValue, Now.AddSeconds(1)));
            await first.UntilAsync(() => HaveEach(_first, 1), "the first records", Patience);
            Assert.Equal("standby", await SaidAsync(broker, SecondTopic));
            Assert.Empty(_second.History.Cycles());
            await second.UntilAsync(async () => (await GatewayProcess.CommandAsync("status", "--config", _second.Configuration)).Output.Contains("stands by", StringComparison.Ordinal), "'sawedge status' says that it stands by", Patience);
            await first.UntilAsync(() => IsInCut("north"), "a saw is in its cut");
            await KillAndTakeOverAsync(first, second, times: 1);
        }

        await second.UntilAsync(() => HaveEach(_second, 1), "the second records", Patience);
        Assert.Equal("offline", await SaidAsync(broker, FirstTopic));
        Assert.Equal("active", await SaidAsync(broker, SecondTopic));
        await second.UntilAsync(() => IsInCut("south"), "a saw is in its cut");

        await using (var again = _first.Start())
        {
            await HandBackAsync(again, second, times: 1);
            var before = _first.History.Cycles().Count;
            await again.UntilAsync(() => _first.History.Cycles().Count >= before + 3, "the first records again", Patience);
            Assert.Equal("standby", await SaidAsync(broker, SecondTopic));
            await again.UntilAsync(() => IsAtRest("north"), "a saw is between two cycles");
            await KillAndTakeOverAsync(again, second, times: 2);
        }

        var taken = _second.History.Cycles().Count;
        await second.UntilAsync(() => _second.History.Cycles().Count >= taken + 2, "the second records again", Patience);
        await using var last = _first.Start();
        await HandBackAsync(last, second, times: 2);
        var back = _first.History.Cycles().Count;
        await last.UntilAsync(() => _first.History.Cycles().Count >= back + 2, "the first records once more", Patience);
        var ended = Now;
        Assert.Equal(0, await last.EndAsync());
        Assert.Equal(0, await second.EndAsync());
        _unwatched.Add((ended.AddSeconds(-12), DateTimeOffset.MaxValue));
        foreach (var saw in _saws.Keys)
            Holds(saw);
    }

    public void Dispose()
    {
        _first.Dispose();
        _second.Dispose();
    }

    private static DateTimeOffset Now => TimeProvider.System.GetUtcNow();

    private async Task KillAndTakeOverAsync(GatewayProcess first, GatewayProcess second, int times)
    {
        // The frames of an open cycle are stored every two seconds: of one that began just now nothing may be.
        var killed = Now.AddSeconds(-3);
        await first.KillAsync();
        await second.UntilAsync(() => second.Count(Watches) == times, "the second takes over", Patience);
        _unwatched.Add((killed, Now.AddSeconds(1)));
    }

    private async Task HandBackAsync(GatewayProcess first, GatewayProcess second, int times)
    {
        await second.UntilAsync(() => second.Count(Yields) == times, "the second gives the saws back", Patience);
        var yielded = Now.AddSeconds(-1);
        await first.LogsAsync(Watches, within: Patience);
        _unwatched.Add((yielded, Now.AddSeconds(1)));
        await second.UntilAsync(() => second.Count(StandsBy) == times, "the second stands by", Patience);
    }

    // Every cycle of the saw has one record, and those that began while nobody watched at most one.
    private void Holds(string saw)
    {
        var (options, clock, _) = _saws[saw];
        var recorded = _first.History.Cycles(saw).Concat(_second.History.Cycles(saw)).Select(row => (Start: row.Time("started_at")!.Value, End: row.Time("ended_at")!.Value)).ToList();
        var model = new VirtualSaw(options);
        var (seen, all) = (0, 0);
        while (clock.WallOf(model.Truth.Started) is { } start)
        {
            var end = clock.WallOf(model.Truth.Ended) ?? DateTimeOffset.MaxValue;

            // Of one that was under way at the very first start only the end is seen, of one that a kill cut off only the start.
            var count = recorded.Count(other => Math.Abs((other.Start - start).TotalSeconds) < 3 || Math.Abs((other.End - end).TotalSeconds) < 2);
            var wasWatched = !_unwatched.Any(gap => start >= gap.From && start <= gap.To);
            Assert.True(wasWatched ? count == 1 : count <= 1, $"{saw}: the cycle from {start:HH:mm:ss.f} on has {count} records{(wasWatched ? "" : ", and nobody watched")}; not watched: {string.Join(", ", _unwatched.Select(gap => $"{gap.From:HH:mm:ss.f} to {gap.To:HH:mm:ss.f}"))}; first: {Times(_first, saw)}; second: {Times(_second, saw)}");
            (seen, all) = (seen + (wasWatched ? 1 : 0), all + count);
            model.NextTurn();
        }

        Assert.True(recorded.Count == all, $"{saw}: {recorded.Count} records, {all} of them of cycles that there were; first: {Times(_first, saw)}; second: {Times(_second, saw)}");
        Assert.True(seen >= 6, $"{saw}: only {seen} cycles were watched");
    }

    private static string Times(GatewayFolder folder, string saw) => string.Join(", ", folder.History.Cycles(saw).Select(row => $"{row.Time("started_at"):HH:mm:ss.f} {row.Outcome}"));

    private bool HaveEach(GatewayFolder folder, int count) => _saws.Keys.All(saw => folder.History.Cycles(saw).Count >= count);

    private bool IsInCut(string saw) => _saws[saw].Live.TryRead(out var frame) && frame.Number(Signal.HeadPosition) is < SmallSaw.HeightMm - 3 and > 3 && frame.Flag(Signal.Cutting) == true;

    private bool IsAtRest(string saw) => _saws[saw].Live.TryRead(out var frame) && frame.Flag(Signal.CycleActive) == false;

    private static async Task<string> SaidAsync(MosquittoBroker broker, string topic)
    {
        var (_, output) = await Peer.RunAsync("mosquitto_sub", ["-h", "127.0.0.1", "-p", $"{broker.Port}", "-t", topic, "--retained-only", "-C", "1", "-W", "5"]);
        return output.Trim();
    }

    private void Configure(GatewayFolder folder, MosquittoBroker broker, ModbusTcpServer device, string gateway, string role, string own, string other)
    {
        folder.With("gateway", gateway).WithDevice("plc", device.Port)
            .With("brokers", new JsonArray(new JsonObject { ["name"] = "hall", ["host"] = "127.0.0.1", ["port"] = broker.Port }))
            .With("standby", new JsonObject { ["role"] = role, ["broker"] = "hall", ["topic"] = own, ["other"] = other, ["after"] = "2 s" });
        foreach (var (name, i) in _saws.Keys.Select((name, i) => (name, i)))
            folder.WithSaw(name, "plc", i + 1);
    }
}
