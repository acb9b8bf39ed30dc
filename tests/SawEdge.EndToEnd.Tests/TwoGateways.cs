using System.Text.Json.Nodes;
using SawEdge.Core.Signals;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>Two built gateways on one set of saws, a real broker between them, and the account of what each saw did.</summary>
public abstract class TwoGateways : IDisposable
{
    private protected const int Watches = 3572;
    private protected const int StandsBy = 3575;
    private protected const int Yields = 3574;
    private protected const int OnlyTheBroker = 3579;
    private protected const string FirstTopic = "riverbend/gateways/hall-1";
    private protected const string SecondTopic = "riverbend/gateways/hall-1b";

    private protected Dictionary<string, (VirtualSawOptions Options, SawClock Clock, LiveSaw Live)> Saws { get; } = [];
    private protected GatewayFolder First { get; } = new();
    private protected GatewayFolder Second { get; } = new();
    private protected List<(DateTimeOffset From, DateTimeOffset To)> Unwatched { get; } = [];

    public void Dispose()
    {
        First.Dispose();
        Second.Dispose();
        GC.SuppressFinalize(this);
    }

    private protected static DateTimeOffset Now => TimeProvider.System.GetUtcNow();

    private protected async Task KillAndTakeOverAsync(GatewayProcess first, GatewayProcess second, int times)
    {
        // The frames of an open cycle are stored every two seconds: of one that began just now nothing may be.
        var killed = Now.AddSeconds(-3);
        await first.KillAsync();
        await second.UntilAsync(() => second.Count(Watches) == times, "the second takes over");
        Unwatched.Add((killed, Now.AddSeconds(1)));
    }

    private protected async Task HandBackAsync(GatewayProcess first, GatewayProcess second, int times)
    {
        await second.UntilAsync(() => second.Count(Yields) == times, "the second gives the saws back");
        var yielded = Now.AddSeconds(-1);
        await first.LogsAsync(Watches);
        Unwatched.Add((yielded, Now.AddSeconds(1)));
        await second.UntilAsync(() => second.Count(StandsBy) == times, "the second stands by");
    }

    // Every cycle of the saw has one record, and those that began while nobody watched at most one.
    private protected void Holds(string saw, int least = 6)
    {
        var (options, clock, _) = Saws[saw];
        var recorded = First.History.Cycles(saw).Concat(Second.History.Cycles(saw)).Select(row => (Start: row.Time("started_at")!.Value, End: row.Time("ended_at")!.Value)).ToList();
        var model = new VirtualSaw(options);
        var (seen, all) = (0, 0);
        while (clock.WallOf(model.Truth.Started) is { } start)
        {
            var end = clock.WallOf(model.Truth.Ended) ?? DateTimeOffset.MaxValue;

            // Of one that was under way at the very first start only the end is seen, of one that a kill cut off only the start; a record's middle lies in its cycle.
            var count = recorded.Count(other => other.Start + ((other.End - other.Start) / 2) is var middle && middle > start.AddSeconds(-0.5) && middle <= end.AddSeconds(0.5));
            var wasWatched = !Unwatched.Any(gap => start >= gap.From && start <= gap.To);
            Assert.True(wasWatched ? count == 1 : count <= 1, $"{saw}: the cycle from {start:HH:mm:ss.f} on has {count} records{(wasWatched ? "" : ", and nobody watched")}; not watched: {string.Join(", ", Unwatched.Select(gap => $"{gap.From:HH:mm:ss.f} to {gap.To:HH:mm:ss.f}"))}; first: {Times(First, saw)}; second: {Times(Second, saw)}");
            (seen, all) = (seen + (wasWatched ? 1 : 0), all + count);
            model.NextTurn();
        }

        Assert.True(recorded.Count == all, $"{saw}: {recorded.Count} records, {all} of them of cycles that there were; first: {Times(First, saw)}; second: {Times(Second, saw)}");
        Assert.True(seen >= least, $"{saw}: only {seen} cycles were watched");
    }

    private static string Times(GatewayFolder folder, string saw) => string.Join(", ", folder.History.Cycles(saw).Select(row => $"{row.Time("started_at"):HH:mm:ss.f} {row.Outcome}"));

    private protected bool HaveEach(GatewayFolder folder, int count) => Saws.Keys.All(saw => folder.History.Cycles(saw).Count >= count);

    private protected bool IsInCut(string saw) => Saws[saw].Live.TryRead(out var frame) && frame.Number(Signal.HeadPosition) is < SmallSaw.HeightMm - 3 and > 3 && frame.Flag(Signal.Cutting) == true;

    private protected bool IsAtRest(string saw) => Saws[saw].Live.TryRead(out var frame) && frame.Flag(Signal.CycleActive) == false;

    private protected static async Task<string> SaidAsync(MosquittoBroker broker, string topic)
    {
        var (_, output) = await Peer.RunAsync("mosquitto_sub", ["-h", "127.0.0.1", "-p", $"{broker.Port}", "-t", topic, "--retained-only", "-C", "1", "-W", "5"]);
        return output.Trim();
    }

    private protected void Configure(GatewayFolder folder, int brokerPort, ModbusTcpServer device, string gateway, string role, string own, string other, string? otherPage = null)
    {
        var standby = new JsonObject { ["role"] = role, ["broker"] = "hall", ["topic"] = own, ["other"] = other, ["after"] = "2 s" };
        if (otherPage is not null)
            standby["otherPage"] = otherPage;
        folder.With("gateway", gateway).WithDevice("plc", device.Port)
            .With("brokers", new JsonArray(new JsonObject { ["name"] = "hall", ["host"] = "127.0.0.1", ["port"] = brokerPort }))
            .With("standby", standby);
        foreach (var (name, i) in Saws.Keys.Select((name, i) => (name, i)))
            folder.WithSaw(name, "plc", i + 1);
    }
}
