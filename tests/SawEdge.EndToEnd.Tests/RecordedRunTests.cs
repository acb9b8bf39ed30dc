using System.Text.Json.Nodes;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Mqtt;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>
/// A gateway records while it runs, in files so small that each cut lies in several of them: a saw over Modbus, and one over MQTT whose
/// clock is an hour ahead. A replay of the folder gives, byte for byte, the tables that an export of the live history gives.
/// </summary>
public sealed class RecordedRunTests : IAsyncLifetime, IDisposable
{
    private const string Record = """{ "folder": "recordings", "rollSize": "0.02 MB" }""";

    private static readonly string[] Measured = ["cycle_id", "started_at", "ended_at", "cut_started_at", "cut_ended_at", "outcome", "cut_time_s", "cut_area_cm2", "part_count", "mean_load_kw", "peak_load_kw", "cutting_energy_kj", "job"];

    private readonly GatewayFolder _folder = new();
    private readonly ShiftedClock _ahead = new(TimeSpan.FromHours(1));
    private readonly SawClock _north = new(held: true);
    private MosquittoBroker? _broker;
    private ModbusTcpServer? _device;
    private MqttPublisher? _south;
    private LiveSaw? _live;
    private LiveSaw? _southLive;

    public async Task InitializeAsync()
    {
        if (Peer.Find("mosquitto") is null)
            return;
        _live = new LiveSaw(new VirtualSaw(SmallSaw.Named("north", 31)), _north);
        _device = ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit> { [1] = new(_live, RegisterLayout.Plain) });
        _broker = await MosquittoBroker.StartAsync();
        _folder.WithDevice("plc", _device.Port).WithSaw("north", "plc", 1)
            .With("brokers", new JsonArray(new JsonObject { ["name"] = "hall", ["host"] = "127.0.0.1", ["port"] = _broker.Port }))
            .With("record", JsonNode.Parse(Record)!)
            .With("alarms", JsonNode.Parse("""{ "rules": [ { "name": "cutting hard", "on": "signal", "signal": "motor_load", "above": "0.6 kW", "offDelay": "1 s" } ] }""")!);
        _folder.WithSaw(JsonNode.Parse("""
            { "name": "south", "source": "mqtt", "broker": "hall", "topic": "plant/south", "timeMember": "time", "interval": "50 ms", "signals": {
              "head_position": { "member": "head_position" }, "motor_load": { "member": "motor_load" }, "blade_speed": { "member": "blade_speed" },
              "cycle_active": { "member": "cycle_active" }, "cutting": { "member": "cutting" }, "blade_running": { "member": "blade_running" },
              "part_count": { "member": "part_count" }, "job": { "member": "job" }, "fault_code": { "member": "fault_code" } } }
            """)!);

        // It waits long enough between two cycles for the first of them to be closed before the second begins.
        _southLive = new LiveSaw(new VirtualSaw(SmallSaw.Named("south", 32) with { Start = _ahead.GetUtcNow(), Work = new WorkPattern { LeastWaitS = 8, ExtraWaitS = 0, StopChance = 0, BarChangeS = 0 } }), _ahead);
        _south = new MqttPublisher(
            _southLive,
            new MqttPublisherOptions { Host = "127.0.0.1", Port = _broker.Port, ClientId = "south", Topic = "plant/south", Interval = TimeSpan.FromMilliseconds(50) },
            TimeProvider.System);
    }

    [PeerFact("mosquitto")]
    public async Task ARunWithAnOrderlyStopInACut_IsTheSameInAReplay()
    {
        await using (var first = _folder.Start())
        {
            await BeginAsync(first);
            await first.UntilAsync(() => Count("north") >= 1 && Count("south") >= 1, "each saw has finished a cut");
            await first.UntilAsync(() => IsInCut() && IsInCycle(_southLive!) && _folder.History.LastOpenPart("north") is not null, "the first saw is in its next cut, and the second in its cycle");
            Assert.Equal(0, await first.EndAsync());
        }

        await FinishAsync();

        var (live, replayed) = await TablesAsync("cycles");
        Assert.True(live.Split('\n').Length > 5, live);
        Assert.Equal(live, replayed);
        (live, replayed) = await TablesAsync("alarms");
        Assert.True(live.Split('\n').Length > 3, live);
        Assert.Equal(live, replayed);
    }

    /// <summary>
    /// A power cut takes the last frames of the cuts that are open: at most two seconds from the history, at most half a second from the recording. So the two
    /// need not agree on these cuts, nor on what is learned from them. What was finished before is the same, and what is measured of the cuts after.
    /// </summary>
    [PeerFact("mosquitto")]
    public async Task ARunThatWasKilledInACut_DiffersInThatCutAlone()
    {
        Dictionary<string, JsonObject> before;
        await using (var first = _folder.Start())
        {
            await BeginAsync(first);
            await first.UntilAsync(() => Count("north") >= 1 && Count("south") >= 1, "each saw has finished a cut");
            await first.UntilAsync(() => IsInCut() && _folder.History.LastOpenPart("north") is > 0, "the first saw is in its next cut");
            before = Rows(await File.ReadAllTextAsync(await ExportAsync("data", "before.jsonl")));
            await first.KillAsync();
        }

        await FinishAsync();
        await TablesAsync("cycles");
        var live = Rows(await File.ReadAllTextAsync(await ExportAsync("data", "live.jsonl")));
        var replayed = Rows(await File.ReadAllTextAsync(await ExportAsync("replayed", "replayed.jsonl")));
        Assert.True(before.Count >= 2);
        Assert.All(before.Keys, id => Assert.Equal(live[id].ToJsonString(), replayed[id].ToJsonString()));
        foreach (var saw in (string[])["north", "south"])
        {
            var (last, same) = (live.Values.Last(row => row["saw"]!.ToString() == saw), replayed.Values.Last(row => row["saw"]!.ToString() == saw));
            Assert.False(before.ContainsKey(last["cycle_id"]!.ToString()));
            Assert.All(Measured, column => Assert.Equal(last[column]?.ToJsonString(), same[column]?.ToJsonString()));
        }
    }

    private static Dictionary<string, JsonObject> Rows(string lines) =>
        lines.Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(line => JsonNode.Parse(line)!.AsObject()).ToDictionary(row => row["cycle_id"]!.ToString());

    private async Task<string> ExportAsync(string folder, string file)
    {
        await GatewayProcess.GoodCommandAsync("export", "cycles", "--data", _folder.File(folder), "--out", _folder.File(file));
        return _folder.File(file);
    }

    public async Task DisposeAsync()
    {
        if (_south is not null)
            await _south.DisposeAsync();
        if (_device is not null)
            await _device.DisposeAsync();
        if (_broker is not null)
            await _broker.DisposeAsync();
    }

    public void Dispose() => _folder.Dispose();

    private async Task BeginAsync(GatewayProcess gateway)
    {
        await gateway.UntilAsync(() => _device!.Requests > 0, "the gateway polls");
        _north.Release();
    }

    // Ends while no cut is open: one that is, a replay ends where the recording does.
    private async Task FinishAsync()
    {
        var (north, south) = (Count("north"), Count("south"));
        await using var second = _folder.Start();
        await second.UntilAsync(() => Count("north") >= north + 2 && Count("south") >= south + 2, "both saws have gone on");
        await second.UntilAsync(() => !IsInCycle(_live!), "the first saw stands between two cycles");
        _north.Hold();
        var stands = Count("south");
        await second.UntilAsync(() => !IsInCycle(_southLive!) && Count("south") > stands, "the second saw stands between two cycles");
        await _south!.DisposeAsync();
        _south = null;
        Assert.Equal(0, await second.EndAsync());
        var files = Directory.GetFiles(_folder.File("recordings"));
        // That it goes on from file to file, however few frames a busy machine lets be polled.
        Assert.True(files.Length > 4, string.Join(' ', files));
        Assert.Contains(files, file => file.EndsWith(".csv.gz", StringComparison.Ordinal));
    }

    private async Task<(string Live, string Replayed)> TablesAsync(string table)
    {
        if (!Directory.Exists(_folder.File("replayed")))
            await GatewayProcess.GoodCommandAsync("replay", "--input", _folder.File("recordings"), "--out", _folder.File("replayed"), "--config", _folder.Configuration);
        await GatewayProcess.GoodCommandAsync("export", table, "--data", _folder.File("data"), "--out", _folder.File($"{table}.csv"));
        return (await File.ReadAllTextAsync(_folder.File($"{table}.csv")), await File.ReadAllTextAsync(Path.Combine(_folder.File("replayed"), $"{table}.csv")));
    }

    private int Count(string saw) => _folder.History.Cycles(saw).Count;

    private bool IsInCut() => _live!.TryRead(out var frame) && frame.Number(Core.Signals.Signal.HeadPosition) < SmallSaw.HeightMm - 4;

    private bool IsInCycle(LiveSaw saw) => saw.TryRead(out var frame) && frame.Flag(Core.Signals.Signal.CycleActive) != false;

    /// <summary>The clock of a controller that is wrong by a fixed time.</summary>
    private sealed class ShiftedClock(TimeSpan by) : TimeProvider
    {
        public override DateTimeOffset GetUtcNow() => System.GetUtcNow() + by;
    }
}
