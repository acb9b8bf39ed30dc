using System.Net;
using System.Net.Http.Json;
using System.Text.Json.Nodes;
using Microsoft.Data.Sqlite;
using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cycles;
using SawEdge.Core.Sections;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Hosting;
using SawEdge.Gateway.Tests.Configuration;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;
using SawEdge.Simulator.Time;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Hosting;

/// <summary>A gateway in this process in front of virtual saws behind one device, whose files are changed while it runs.</summary>
public sealed class ConfigurationWhileRunningTests : IAsyncLifetime, IDisposable
{
    private const int JobsLoaded = 3504;
    private const int NotTaken = 3516;
    private const int GoodAgain = 3517;
    private const int JobsChanged = 3523;
    private const int PartTaken = 3560;
    private const int ForNextStart = 3561;
    private const int Stopped = 3562;
    private const int Started = 3563;
    private const int CycleContinued = 3001;
    private const string Jobs = "job,material,section,part_length,standard\nJ,1045,rect 40 x 20 mm,100 mm,60 cm2/min\nL,1045,rect 100 x 50 mm,100 mm,60 cm2/min\n";

    // A Monday, in the early shift of the plant at Riverbend, whatever the day is on which this runs.
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 12, 0, 0, TimeSpan.Zero);

    private readonly TempFolder _folder = new();
    private readonly LogCollector _log = new();
    private readonly TestLifetime _lifetime = new();

    // A machine that is busy with other tests must not look like a gap in what the saws say.
    private readonly UnhurriedClock _world = new();
    private readonly ScaledTimeProvider _clock;
    private readonly List<CycleRecord> _finished = [];
    private readonly List<AlarmEvent> _alarms = [];
    private readonly HttpClient _http = new();
    private readonly int _port = Peer.FreePort();
    private readonly List<LiveSaw> _saws = [];
    private ModbusTcpServer? _device;
    private JsonObject _root = [];
    private GatewayService? _service;

    public ConfigurationWhileRunningTests() => _clock = new ScaledTimeProvider(_world, 12, Start);

    public Task InitializeAsync()
    {
        for (var i = 1; i <= 2; i++)
        {
            _saws.Add(new LiveSaw(
                new VirtualSaw(new VirtualSawOptions
                {
                    Machine = new MachineProfile { Name = $"saw-{i}", RestHeightMm = 60, IndexStrokeS = 1 },

                    // The second makes long cuts, so that a change comes in the middle of one.
                    Jobs = [new VirtualJob { Id = i == 1 ? "J" : "L", Section = i == 1 ? SectionFactory.Rectangle(40, 20) : SectionFactory.Rectangle(100, 50), Material = new VirtualMaterial("1045", 1800, 0.25), RateCm2Min = 60, BladeSpeedMMin = 70, PartLengthMm = 100, Quantity = 100_000, BarLengthMm = 1e6, TrimLengthMm = 0 }],
                    Seed = (ulong)i,
                    Start = Start,
                    Work = new WorkPattern { StopChance = 0, BarChangeS = 0 },
                }),
                _clock));
        }

        _device = ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit> { [1] = new(_saws[0], RegisterLayout.Plain), [2] = new(_saws[1], RegisterLayout.Plain) });
        File.WriteAllText(_folder.File("jobs.csv"), Jobs);
        _root = JsonNode.Parse($$"""
            {
              "site": "Riverbend", "gateway": "hall-2", "dataFolder": "data", "jobsFile": "jobs.csv", "timeZone": "Etc/UTC",
              "http": { "listen": "http://127.0.0.1:{{_port}}" },
              "devices": [ { "name": "plc", "host": "127.0.0.1", "port": {{_device.Port}}, "connectTimeout": "60 s", "responseTimeout": "60 s" } ],
              "saws": [ {{Saw(1)}} ],
              "alarms": { "rules": [ { "name": "heavy", "on": "signal", "signal": "motor_load", "above": "90 kW", "severity": "low" } ] }
            }
            """)!.AsObject();
        return Task.CompletedTask;
    }

    public async Task DisposeAsync()
    {
        if (_service is not null)
            await _service.StopAsync(CancellationToken.None);
        _service?.Dispose();
        await _device!.DisposeAsync();
        await _world.DisposeAsync();
    }

    public void Dispose()
    {
        _http.Dispose();
        _lifetime.Dispose();
        _log.Dispose();
        _folder.Dispose();
    }

    [Fact]
    public async Task JobListChangedInACut_HoldsFromTheNextFinishedCutOn_AndIsToldColumnByColumn()
    {
        _root["saws"] = JsonNode.Parse($"[ {Saw(2)} ]");
        await StartAsync();
        await CutsAsync("saw-2", 1);
        var before = Of("saw-2")[0].StandardCutTimeS;
        await CuttingAsync("saw-2");
        await File.WriteAllTextAsync(_folder.File("jobs.csv"), Jobs.Replace("50 mm,100 mm,60 cm2/min", "50 mm,100 mm,30 cm2/min", StringComparison.Ordinal) + "K,1045,round 30 mm,,\n");
        await SaysAsync(JobsChanged);
        Assert.Single(Of("saw-2"));
        await CutsAsync("saw-2", 2);

        Assert.EndsWith("jobs.csv: added K; changed L (standard: 60 cm2/min -> 30 cm2/min)", Assert.Single(Said(JobsChanged)), StringComparison.Ordinal);
        Assert.Equal(2 * before!.Value, Of("saw-2")[1].StandardCutTimeS!.Value, 0.5);
        Assert.Equal(2, Said(JobsLoaded).Count);
        IsWhole("saw-2");
    }

    [Fact]
    public async Task SawAdded_IsReadAndShown_AndTheOtherIsNotInterrupted()
    {
        await StartAsync();
        await CutsAsync("saw-1", 1);
        await CuttingAsync("saw-1");
        _root["saws"]!.AsArray().Add(JsonNode.Parse("""{ "name": "saw-2", "like": "saw-1", "unit": 2 }"""));
        await ChangeAsync();
        await SaysAsync(Started);
        await CutsAsync("saw-2", 1);
        await CutsAsync("saw-1", 3);

        Assert.EndsWith("sawedge.json: saw 'saw-2' was added", Assert.Single(Said(PartTaken)), StringComparison.Ordinal);
        Assert.Equal(["saw-2: started as configured now"], Said(Started));
        Assert.Empty(Said(Stopped));
        Assert.Equal(1, _device!.Connections);
        IsWhole("saw-1");
        Assert.Equal(["saw-1", "saw-2"], await SawNamesAsync());
        await Until.TrueAsync(async () => (await GetAsync("/saws/saw-2"))["lastCycle"] is not null, "the API shows its last cycle");
        Assert.Contains("sawedge_frames_total{saw=\"saw-2\"}", await _http.GetStringAsync(new Uri($"http://127.0.0.1:{_port}/metrics")), StringComparison.Ordinal);
    }

    [Fact]
    public async Task SawRemovedInACut_IsStoppedAsAtAStop_AndGoesOnWhenItComesBack()
    {
        _root["saws"]!.AsArray().Add(JsonNode.Parse("""{ "name": "saw-2", "like": "saw-1", "unit": 2 }"""));
        await StartAsync();
        await CutsAsync("saw-2", 1);
        await CuttingAsync("saw-2");
        var gone = _root["saws"]![1]!.DeepClone();
        _root["saws"]!.AsArray().RemoveAt(1);
        await ChangeAsync();
        await SaysAsync(Stopped);
        var saw2 = Of("saw-2").Count;
        Assert.Equal(1, saw2);
        Assert.True(OpenFrames("saw-2") > 0, "what was open is stored");
        await CutsAsync("saw-1", Of("saw-1").Count + 2);

        Assert.Equal(["saw-2: stopped; what was open is stored"], Said(Stopped));
        Assert.Equal(saw2, Of("saw-2").Count);
        Assert.Equal(["saw-1"], await SawNamesAsync());
        Assert.Equal(HttpStatusCode.NotFound, (await _http.GetAsync(Api("/saws/saw-2"))).StatusCode);
        Assert.Equal(1, _device!.Connections);
        IsWhole("saw-1");

        _root["saws"]!.AsArray().Add(gone);
        await ChangeAsync();
        await SaysAsync(Started);
        await CutsAsync("saw-2", saw2 + 2);
        Assert.Equal(["saw-1", "saw-2"], await SawNamesAsync());
        Assert.Equal(Of("saw-2").Count, Of("saw-2").Select(record => record.CycleId).Distinct().Count());
    }

    [Fact]
    public async Task SawChangedInACut_BeginsAnewWithItsMemory_TheCutIsRecordedOnce_AndTheOtherGoesOn()
    {
        _root["saws"]!.AsArray().Add(JsonNode.Parse("""{ "name": "saw-2", "like": "saw-1", "unit": 2 }"""));
        await StartAsync();
        await CutsAsync("saw-2", 1);
        await CuttingAsync("saw-2");
        _root["saws"]![1]!["interval"] = "200 ms";
        _root["saws"]![1]!["group"] = "bay";
        await ChangeAsync();
        await SaysAsync(Started);
        var then = Of("saw-2").Count;
        Assert.Equal(1, then);
        await CutsAsync("saw-2", 2);

        // Filled in from the saw that it is like, it had that one's interval.
        Assert.EndsWith("saw 'saw-2' was changed (interval: \"250 ms\" -> \"200 ms\"; group: left out -> \"bay\")", Assert.Single(Said(PartTaken)), StringComparison.Ordinal);
        Assert.Equal((1, 1), (Said(Stopped).Count, Said(Started).Count));
        Assert.Contains(_log.Entries, entry => entry.Id == CycleContinued && entry.Text.StartsWith("saw-2", StringComparison.Ordinal));
        Assert.All(Of("saw-2"), record => Assert.Equal((CutOutcome.Completed, true), (record.Outcome, record.CutTimeS > 40)));
        Assert.Equal(Of("saw-2").Count, Of("saw-2").Select(record => record.CycleId).Distinct().Count());
        Assert.Equal(1, _device!.Connections);
        IsWhole("saw-1");
    }

    [Fact]
    public async Task OnlyTheGroupChanged_IsShown_AndNothingIsStopped()
    {
        await StartAsync();
        await CutsAsync("saw-1", 1);
        _root["saws"]![0]!["group"] = "bay";
        await ChangeAsync();
        await Until.TrueAsync(async () => (string?)(await GetAsync("/saws/saw-1"))["group"] == "bay", "the API shows the group");
        await CutsAsync("saw-1", 3);
        Assert.Empty(Said(Stopped));
        IsWhole("saw-1");
    }

    [Fact]
    public async Task RuleChanged_TheAlarmComesByTheNewLimit_AndGoesWithIt_AndWithTheRule()
    {
        await StartAsync();
        await CutsAsync("saw-1", 1);
        Assert.Empty(Events("heavy"));
        var rule = _root["alarms"]!["rules"]![0]!;
        rule["above"] = "0.1 kW";
        await ChangeAsync();
        await Until.TrueAsync(() => Events("heavy").Exists(happened => happened.Kind == AlarmEventKind.Raised), "the alarm is raised");
        Assert.Equal(0.1, Events("heavy").First().Alarm!.Limit);
        Assert.EndsWith("rule 'heavy' was changed (above: \"90 kW\" -> \"0.1 kW\")", Assert.Single(Said(PartTaken)), StringComparison.Ordinal);

        rule["above"] = "95 kW";
        await ChangeAsync();
        await Until.TrueAsync(() => Events("heavy") is [.., { Alarm.IsActive: false }], "the alarm is cleared");

        rule["above"] = "0.1 kW";
        await ChangeAsync();
        await Until.TrueAsync(() => Events("heavy") is [.., { Alarm.IsActive: true }], "the alarm is there again");
        _root["alarms"]!["rules"]!.AsArray().Clear();
        _root["alarms"]!["withoutRules"] = new JsonArray("frozen_signal");
        await ChangeAsync();
        await Until.TrueAsync(() => Events("heavy") is [.., { Alarm.State: AlarmState.Normal }], "the alarm of a rule that is gone is closed");
        Assert.Contains("no longer configured", Events("heavy")[^1].Note, StringComparison.Ordinal);
        await CutsAsync("saw-1", Of("saw-1").Count + 1);
        IsWhole("saw-1");
        Assert.Equal(1, _device!.Connections);
    }

    [Fact]
    public async Task CalendarChanged_OeeGoesByIt()
    {
        await StartAsync();
        await CutsAsync("saw-1", 1);
        var period = $"/oee?from={Start:yyyy-MM-dd}T00:00:00Z&to={Start:yyyy-MM-dd}T23:00:00Z";
        Assert.Equal(HttpStatusCode.Conflict, (await _http.GetAsync(Api(period))).StatusCode);

        JsonNode Calendar(string from) => JsonNode.Parse($$"""{ "shifts": [ { "name": "early", "days": ["mon"], "from": "{{from}}", "to": "20:00" } ] }""")!;
        async Task<double> PlannedAsync() => (await GetAsync(period))["items"] is JsonArray { Count: > 0 } items ? (double)items[0]!["plannedBusyTimeS"]! : 0;
        _root["calendar"] = Calendar("19:00");
        await ChangeAsync();
        await Until.TrueAsync(async () => (await _http.GetAsync(Api(period))).IsSuccessStatusCode, "there are figures");
        Assert.Equal(0, await PlannedAsync());
        Assert.EndsWith("sawedge.json: calendar was added", Assert.Single(Said(PartTaken)), StringComparison.Ordinal);

        _root["calendar"] = Calendar("06:00");
        await ChangeAsync();
        await Until.TrueAsync(async () => await PlannedAsync() > 3600, "planned time is that of the new shift");
        Assert.EndsWith("calendar was changed (shifts['early'].from: \"19:00\" -> \"06:00\")", Said(PartTaken)[^1], StringComparison.Ordinal);
        IsWhole("saw-1");
    }

    [Fact]
    public async Task FileWithMistakes_ChangesNothing_SaysSoOnce_AndSaysThatItIsMended()
    {
        await StartAsync();
        await CutsAsync("saw-1", 1);
        await File.WriteAllTextAsync(ConfigurationPath, "{ \"site\": \"Riverbend\", ");
        await SaysAsync(NotTaken);
        await CutsAsync("saw-1", Of("saw-1").Count + 1);
        Assert.Contains("Nothing of it is taken over", Assert.Single(Said(NotTaken)), StringComparison.Ordinal);

        // Good in part: the rule is taken, the saw stays.
        _root["saws"]![0]!["interval"] = "soon";
        _root["alarms"]!["rules"]![0]!["above"] = "80 kW";
        await ChangeAsync();
        await SaysAsync(PartTaken);
        Assert.Contains("saws[0].interval (line", Said(NotTaken)[^1], StringComparison.Ordinal);
        Assert.Contains("As before stays: saw 'saw-1'; the rest is taken over", Said(NotTaken)[^1], StringComparison.Ordinal);
        Assert.EndsWith("rule 'heavy' was changed (above: \"90 kW\" -> \"80 kW\")", Assert.Single(Said(PartTaken)), StringComparison.Ordinal);

        _root["saws"]![0]!["interval"] = "250 ms";
        _root["gateway"] = "hall-3";
        await ChangeAsync();
        await SaysAsync(GoodAgain);
        await SaysAsync(ForNextStart);
        await CutsAsync("saw-1", Of("saw-1").Count + 1);
        Assert.Equal((2, 1, 1), (Said(NotTaken).Count, Said(GoodAgain).Count, Said(PartTaken).Count));
        Assert.EndsWith("sawedge.json: gateway changed; that takes effect at the next start", Assert.Single(Said(ForNextStart)), StringComparison.Ordinal);
        Assert.Equal("hall-2", (string?)(await GetAsync("/site"))["gateway"]);
        Assert.Empty(Said(Stopped));
        IsWhole("saw-1");
    }

    [Fact]
    public async Task DeviceChanged_ItsSawsBeginAnew_ThoseOfAnotherDoNot()
    {
        await using var other = ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit> { [1] = new(_saws[1], RegisterLayout.Plain) });
        _root["devices"]!.AsArray().Add(JsonNode.Parse($$"""{ "name": "plc-2", "host": "127.0.0.1", "port": {{other.Port}}, "connectTimeout": "60 s", "responseTimeout": "60 s" }"""));
        _root["saws"]!.AsArray().Add(JsonNode.Parse("""{ "name": "saw-2", "like": "saw-1", "device": "plc-2", "unit": 1 }"""));
        await StartAsync();
        await CutsAsync("saw-2", 1);
        _root["devices"]![1]!["responseTimeout"] = "50 s";
        await ChangeAsync();
        await SaysAsync(Started);
        await CutsAsync("saw-2", Of("saw-2").Count + 1);
        Assert.EndsWith("device 'plc-2' was changed (responseTimeout: \"60 s\" -> \"50 s\")", Assert.Single(Said(PartTaken)), StringComparison.Ordinal);
        Assert.Equal(["saw-2: stopped; what was open is stored"], Said(Stopped));
        Assert.Equal((1, 2), (_device!.Connections, other.Connections));
        IsWhole("saw-1");
    }

    [PeerFact("mosquitto", "mosquitto_passwd", "mosquitto_pub")]
    public async Task PasswordOfABrokerInAFileOfItsOwn_IsTakenOver_AndNeverShown()
    {
        await using var broker = await MosquittoBroker.StartWithUserAsync("gateway", "first-password");
        await File.WriteAllTextAsync(_folder.File("password"), "first-password");
        _root["brokers"] = JsonNode.Parse($$"""[ { "name": "hall", "host": "127.0.0.1", "port": {{broker.Port}}, "user": "gateway", "passwordFile": "password" } ]""");
        _root["saws"]!.AsArray().Add(JsonNode.Parse("""{ "name": "saw-3", "source": "mqtt", "broker": "hall", "topic": "saw-3/frame", "signals": { "motor_load": { "member": "load" }, "cutting": { "member": "cutting" } } }"""));
        await StartAsync();
        Task HeardAsync(string password, double load) => WaitAsync(
            async () =>
            {
                await broker.PublishAsync("saw-3/frame", $$"""{"load":{{load}},"cutting":false}""", "-u", "gateway", "-P", password);
                return (double?)(await GetAsync("/saws/saw-3"))["motorLoadKw"] == load;
            },
            $"{load} is heard");
        await CutsAsync("saw-1", 1);
        await HeardAsync("first-password", 1);

        await broker.KillAsync();
        await broker.SetPasswordAsync("gateway", "second-password");
        await broker.StartAgainAsync();
        await File.WriteAllTextAsync(_folder.File("password"), "second-password");
        await SaysAsync(Started);
        await HeardAsync("second-password", 2);
        Assert.EndsWith("broker 'hall' was changed (password: another, not shown)", Assert.Single(Said(PartTaken)), StringComparison.Ordinal);
        Assert.Equal(["saw-3: stopped; what was open is stored"], Said(Stopped));
        Assert.DoesNotContain(_log.Entries, entry => entry.Text.Contains("-password", StringComparison.Ordinal));
        IsWhole("saw-1");
    }

    private string ConfigurationPath => _folder.File("sawedge.json");

    private static string Saw(int unit) =>
        $$"""{ "name": "saw-{{unit}}", "source": "modbus", "device": "plc", "unit": {{unit}}, "interval": "250 ms", "signals": {{PlainRegisters.Signals}} }""";

    private async Task StartAsync()
    {
        await File.WriteAllTextAsync(ConfigurationPath, _root.ToJsonString());
        var loaded = ConfigurationFile.Load(ConfigurationPath, Sample.NoEnvironment);
        Assert.True(loaded.Options is not null, string.Join('\n', loaded.Findings));
        var watched = new WatchedConfiguration(ConfigurationPath, Sample.NoEnvironment, loaded);
        _service = new GatewayService(loaded.Options, new GatewayClocks(_clock, TimeProvider.System), _log, _lifetime, Finish, Take, notifier: null, watched);
        await _service.StartAsync(CancellationToken.None);
    }

    // As an editor does that writes another file and puts it in the place of the one before.
    private async Task ChangeAsync()
    {
        await File.WriteAllTextAsync(ConfigurationPath + ".new", _root.ToJsonString());
        File.Move(ConfigurationPath + ".new", ConfigurationPath, overwrite: true);
    }

    private void Finish(FinishedCut cut)
    {
        lock (_finished)
            _finished.Add(cut.Record);
    }

    private void Take(AlarmEvent happened)
    {
        lock (_alarms)
            _alarms.Add(happened);
    }

    private List<CycleRecord> Of(string saw)
    {
        lock (_finished)
            return [.. _finished.Where(record => record.Saw == saw)];
    }

    private List<AlarmEvent> Events(string rule)
    {
        lock (_alarms)
            return [.. _alarms.Where(happened => happened.Rule == rule)];
    }

    private List<string> Said(int id) => [.. _log.Entries.Where(entry => entry.Id == id).Select(entry => entry.Text)];

    private Task SaysAsync(int id) => WaitAsync(() => Said(id).Count > 0, $"{id} is said");

    private Task CutsAsync(string saw, int count) => WaitAsync(() => Of(saw).Count >= count, $"{saw} has made {count} cuts");

    private Task CuttingAsync(string saw) => WaitAsync(async () => (string?)(await GetAsync($"/saws/{saw}"))["state"] == "executing" && (double?)(await GetAsync($"/saws/{saw}"))["cutShare"] is > 0.02 and < 0.15, $"{saw} cuts");

    private Task WaitAsync(Func<bool> condition, string what) => WaitAsync(() => Task.FromResult(condition()), what);

    private Task WaitAsync(Func<Task<bool>> condition, string what) => Until.TrueAsync(
        async () => _service!.Failure is { } failure ? throw new InvalidOperationException("The gateway has ended.", failure) : await condition(),
        () => $"{what}; said was\n{string.Join('\n', _log.Entries)}");

    private Uri Api(string path) => new($"http://127.0.0.1:{_port}/api/v1{path}");

    private async Task<JsonNode> GetAsync(string path)
    {
        using var answer = await _http.GetAsync(Api(path));
        return answer.IsSuccessStatusCode ? (await answer.Content.ReadFromJsonAsync<JsonNode>())! : new JsonObject();
    }

    private async Task<string[]> SawNamesAsync() => [.. (await GetAsync("/saws"))["items"]!.AsArray().Select(saw => (string)saw!["name"]!)];

    private long OpenFrames(string saw)
    {
        using var connection = new SqliteConnection($"Data Source={_folder.File("data/history.db")};Mode=ReadOnly;Pooling=False");
        connection.Open();
        using var command = connection.CreateCommand();
        command.CommandText = "SELECT count(*) FROM open_frames WHERE saw = $saw";
        command.Parameters.AddWithValue("$saw", saw);
        return (long)command.ExecuteScalar()!;
    }

    // Every cycle there once, none split or cut off, and no frame between them missed: a gap would stand in the notes, and the counter would tell of a part that was not seen.
    private void IsWhole(string saw)
    {
        var records = Of(saw);
        Assert.NotEmpty(records);
        Assert.Equal(records.Count, records.Select(record => record.CycleId).Distinct().Count());
        Assert.All(records.Skip(1), record => Assert.Equal((CutOutcome.Completed, ""), (record.Outcome, record.Notes)));
        Assert.DoesNotContain(_log.Entries, entry => entry.Id == CycleContinued && entry.Text.StartsWith(saw, StringComparison.Ordinal));
    }
}
