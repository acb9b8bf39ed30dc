using System.Globalization;
using System.Text.RegularExpressions;
using SawEdge.Core.Signals;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>What people say about blades, as they say it: the commands as processes, on a replayed history and beside a running gateway.</summary>
public sealed partial class BladeTests
{
    private const int ComputedAnew = 3007;

    // The controller does not name its blades, as most do not.
    private static readonly Signal[] NoBladeId = [.. SignalInfo.All.Select(info => info.Signal).Where(signal => signal != Signal.BladeId)];

    [PeerFact(HistoryFile.Program)]
    public async Task Change_OnAReplayedHistory_IsInTheRecordsAndExplained_AndItsRemovalGivesBackWhatWas()
    {
        var saw = FaultySaws.Of(5).First() with { Faults = [] };
        var name = saw.Machine.Name;
        using var folder = new GatewayFolder().WithDevice("plc", 502).WithSaw(name, "plc", 1);
        folder.Write();
        await File.WriteAllTextAsync(folder.File("jobs.csv"), FaultySaws.JobList);
        await using (var writer = new StreamWriter(folder.File("recording.csv")))
            RecordingGenerator.Write([saw], new RecordingOptions { Cycles = 14, Interval = TimeSpan.FromMilliseconds(250), IdleMargin = TimeSpan.FromSeconds(20), Signals = NoBladeId }, writer);
        await GatewayProcess.GoodCommandAsync("replay", "--input", folder.File("recording.csv"), "--out", folder.File("data"), "--config", folder.Configuration);
        var before = folder.History.Cycles();
        Assert.Equal(14, before.Count);
        Assert.Contains("was on the saw when watching began", await SaysAsync("blade", "list", "--config", folder.Configuration), StringComparison.Ordinal);

        var at = before[6].Time("started_at")!.Value.AddSeconds(-1).ToString("yyyy-MM-dd'T'HH:mm:ss'Z'", CultureInfo.InvariantCulture);
        var changed = await SaysAsync("blade", "change", name, "--blade", "B-9", "--at", at, "--config", folder.Configuration);

        Assert.Contains($"{name}: blade B-9 from ", changed, StringComparison.Ordinal);
        Assert.Contains("8 records changed, 14 looked through.", changed, StringComparison.Ordinal);
        var after = folder.History.Cycles();
        Assert.Equal(before.Take(6).Select(cycle => cycle.ToString()), after.Take(6).Select(cycle => cycle.ToString()));
        var area = 0.0;
        foreach (var cycle in after.Skip(6))
        {
            area += cycle.Number("cut_area_cm2") / 10_000;
            Assert.Equal("B-9", cycle.Text("blade"));
            Assert.Equal(area, cycle.Number("blade_area_m2"), 1e-5);
        }

        var listed = await SaysAsync("blade", "list", "--saw", name, "--data", folder.File("data"));
        Assert.Contains("entered by a person", listed, StringComparison.Ordinal);
        Assert.Contains("changed to B-9", listed, StringComparison.Ordinal);
        Assert.Contains("8 cuts", listed, StringComparison.Ordinal);
        await ExplainsAsync(folder, after[^1]);

        await SaysAsync("blade", "correct", name, "--at", at, "--remove", "--config", folder.Configuration);
        Assert.Equal(before.Select(cycle => cycle.ToString()), folder.History.Cycles().Select(cycle => cycle.ToString()));
        Assert.Equal("ok", await folder.History.IntegrityAsync());
    }

    [PeerFact(HistoryFile.Program)]
    public async Task Change_BesideARunningGateway_IsTakenOverByIt_AndOutlivesAPowerCut()
    {
        var clock = new SawClock(held: true);
        var saw = new LiveSaw(new VirtualSaw(SmallSaw.Named("saw-1", 41)), clock);
        await using var device = ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit> { [1] = new(saw, RegisterLayout.Plain) });
        using var folder = new GatewayFolder().WithDevice("plc", device.Port).WithSaw("saw-1", "plc", 1);
        await using (var gateway = folder.Start())
        {
            await gateway.UntilAsync(() => device.Requests > 0, "the gateway polls");
            clock.Release();
            await gateway.UntilAsync(() => folder.History.Cycles().Count >= 1, "the first cut is in the history");
            var first = folder.History.Cycles()[0];
            Assert.NotEqual("B-2", first.Text("blade"));

            var at = first.Time("started_at")!.Value.AddSeconds(-1).ToString("yyyy-MM-dd'T'HH:mm:ss'Z'", CultureInfo.InvariantCulture);
            var said = await SaysAsync("blade", "change", "saw-1", "--blade", "B-2", "--at", at, "--config", folder.Configuration);
            Assert.Contains("The gateway that runs there takes it over within seconds", said, StringComparison.Ordinal);

            await gateway.LogsAsync(ComputedAnew, "saw-1: ");
            await gateway.UntilAsync(() => folder.History.Cycles()[0].Text("blade") == "B-2", "the record of the first cut has the new blade");
            var known = folder.History.Cycles().Count;
            await gateway.UntilAsync(() => folder.History.Cycles().Count > known, "another cut is in the history");
            clock.Hold();
            await gateway.KillAsync();
        }

        var before = folder.History.Cycles();
        var asked = device.Requests;
        await using var second = folder.Start();
        await second.UntilAsync(() => device.Requests > asked, "the gateway polls again");
        clock.Release();
        await second.UntilAsync(() => folder.History.Cycles().Count > before.Count, "another cut is in the history");
        Assert.Equal(0, await second.EndAsync());

        // Nothing had to be computed anew, and the blade's account went on.
        Assert.Equal(0, second.Count(ComputedAnew));
        var cycles = folder.History.Cycles();
        Assert.Equal(before.Select(cycle => cycle.ToString()), cycles.Take(before.Count).Select(cycle => cycle.ToString()));
        Assert.All(cycles, cycle => Assert.Equal("B-2", cycle.Text("blade")));
        var areas = cycles.Where(cycle => cycle.IsKnown("blade_area_m2")).Select(cycle => cycle.Number("blade_area_m2")).ToList();
        Assert.Equal(areas.Order(), areas);
        Assert.Equal(cycles.Where(cycle => cycle.IsKnown("cut_area_cm2")).Sum(cycle => cycle.Number("cut_area_cm2")) / 10_000, areas[^1], 1e-5);
    }

    private static async Task ExplainsAsync(GatewayFolder folder, CycleRow cycle)
    {
        var page = await GatewayProcess.GoodCommandAsync("explain", cycle.Id, "--ascii", "--config", folder.Configuration);
        var said = Spaces().Replace(page, " ");
        Assert.StartsWith(cycle.Id, page, StringComparison.Ordinal);
        Assert.Contains("blade B-9", said, StringComparison.Ordinal);
        Assert.Contains(string.Create(CultureInfo.InvariantCulture, $"Load score {cycle.Number("load_score"):0.0}: "), said, StringComparison.Ordinal);
        Assert.Contains("A cut is called unusual from ", said, StringComparison.Ordinal);
        foreach (var view in (string[])["score_level", "score_shape", "score_pace"])
            Assert.Equal(cycle.IsKnown(view), said.Contains(string.Create(CultureInfo.InvariantCulture, $"(score {cycle.Number(view):0.0})"), StringComparison.Ordinal));
        Assert.True(cycle.IsKnown("score_level") && cycle.IsKnown("score_shape"), cycle.ToString());

        // The plot: its frame and points on several lines.
        var plot = page[page.IndexOf("Load along the depth", StringComparison.Ordinal)..].Split('\n');
        Assert.True(plot.Count(line => line.Contains('|', StringComparison.Ordinal)) >= 5, page);
    }

    private static async Task<string> SaysAsync(params string[] arguments) => Spaces().Replace(await GatewayProcess.GoodCommandAsync(arguments), " ");

    [GeneratedRegex(@"\s+")]
    private static partial Regex Spaces();
}
