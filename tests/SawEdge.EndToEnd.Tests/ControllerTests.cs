using System.Globalization;
using System.Text.Json.Nodes;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Modbus.Tests.Peers;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>A pymodbus server plays recorded cuts; the built gateway records them and delivers them to a real influxd.</summary>
public sealed class PymodbusControllerTests
{
    [PeerFact(ModbusPeers.Python, ModbusPeers.Pymodbus, InfluxServer.Program, HistoryFile.Program)]
    public async Task RecordedCuts_AreFoundInTheFileAndAtTheServer_AndAReplayOfTheLiveRunGivesTheSame()
    {
        await using var influx = await InfluxServer.StartAsync("plant");
        await using var played = await PlayedRecording.StartAsync(libmodbus: false, SmallSaw.Named("saw-1", 11), cycles: 2);
        using var folder = new GatewayFolder().WithDevice("plc", played.Port).WithSaw("saw-1", "plc", PlayedRecording.Unit, PlayedRecording.Signals).WithInflux1(influx, "plant").With("record", new JsonObject { ["folder"] = "recordings" });
        await using (var gateway = folder.Start())
        {
            await PlayedCuts.AreInTheHistoryAsync(gateway, folder, played);
            await Delivered.AllAsync(gateway, influx, "plant", 2);
            Assert.Equal(0, await gateway.EndAsync());
        }

        await Delivered.IsTheHistoryAsync(influx, "plant", folder.History);
        Assert.Equal("ok", await folder.History.IntegrityAsync());

        // The frames of the live run, through the same code again.
        await GatewayProcess.GoodCommandAsync("replay", "--input", folder.File("recordings"), "--out", folder.File("replayed"), "--config", folder.Configuration);
        var replayed = new HistoryFile(folder.File("replayed")).Cycles();
        Assert.Equal(folder.History.Cycles().Select(cycle => cycle.ToString()), replayed.Select(cycle => cycle.ToString()));
    }
}

/// <summary>A libmodbus server plays recorded cuts; the built gateway delivers them to two servers at once, over both versions of the write path.</summary>
public sealed class LibmodbusControllerTests
{
    [PeerFact(ModbusPeers.Compiler, ModbusPeers.Libmodbus, InfluxServer.Program, VictoriaServer.Program)]
    public async Task RecordedCuts_AreFoundInTheFileAndAtBothServers()
    {
        await using var influx = await InfluxServer.StartAsync("plant");
        await using var victoria = await VictoriaServer.StartAsync();
        await using var played = await PlayedRecording.StartAsync(libmodbus: true, SmallSaw.Named("saw-1", 12), cycles: 2);
        using var folder = new GatewayFolder().WithDevice("plc", played.Port).WithSaw("saw-1", "plc", PlayedRecording.Unit, PlayedRecording.Signals).WithInflux1(influx, "plant").WithInflux2(victoria).With("record", new JsonObject { ["folder"] = "recordings" });
        await using var gateway = folder.Start();

        await PlayedCuts.AreInTheHistoryAsync(gateway, folder, played);
        await Delivered.AllAsync(gateway, influx, "plant", 2);
        await gateway.UntilAsync(async () => (await victoria.ExportAsync("cycle_cut_time_s")).Sum(series => series.Samples.Count) >= 2, "the version 2 server has both cycles");
        Assert.Equal(0, await gateway.EndAsync());

        await Delivered.IsTheHistoryAsync(influx, "plant", folder.History);
        foreach (var column in new[] { "cut_time_s", "standard_cut_time_s", "part_count", "cut_ended_at", "mean_load_kw" })
        {
            var (labels, samples) = Assert.Single(await victoria.ExportAsync($"cycle_{column}"));
            Assert.Equal(("Tarn Quay", "hall-1", "saw-1"), (labels["site"], labels["gateway"], labels["saw"]));
            Assert.Equal(folder.History.Cycles().Select(cycle => (cycle.Whole("started_at")!.Value, cycle.Number(column))), samples);
        }
    }
}

/// <summary>What a played recording must leave in the history.</summary>
internal static class PlayedCuts
{
    /// <summary>Waits until everything was played and recorded, and holds the records against the truth.</summary>
    public static async Task AreInTheHistoryAsync(GatewayProcess gateway, GatewayFolder folder, PlayedRecording played)
    {
        var late = await played.EndedAsync();
        await gateway.UntilAsync(() => folder.History.Cycles().Count >= played.Truth.Count, "every played cycle is in the history");
        var cycles = folder.History.Cycles();
        Assert.Equal(played.Truth.Count, cycles.Count);
        await gateway.UntilAsync(() => Directory.Exists(folder.File("recordings")) && Frames(folder, played.Truth[0].Saw).Count > 0, "frames are recorded");

        foreach (var (cycle, truth) in cycles.Zip(played.Truth))
        {
            IsTheTruth(cycle, truth, played, folder, late);
            Assert.True(cycle.Number("coverage") > 0.5, cycle.ToString());
        }
    }

    /// <summary>Holds one record against the truth.</summary>
    /// <param name="late">By how much the latest row was late.</param>
    public static void IsTheTruth(CycleRow cycle, SawTruth truth, PlayedRecording played, GatewayFolder folder, TimeSpan late)
    {
        // A moment lies somewhere between two rows of the player and two frames of the gateway, as far apart as this busy
        // machine let them be.
        var frames = Frames(folder, truth.Saw).Where(time => time > cycle.Time("started_at") - TimeSpan.FromSeconds(1) && time < cycle.Time("ended_at") + TimeSpan.FromSeconds(1)).ToList();
        var apart = frames.Zip(frames.Skip(1), (a, b) => b - a).Max();
        var sampling = PlayedRecording.Step + late + apart;

        Assert.Equal("completed", cycle.Outcome);
        Assert.Equal(SmallSaw.Job, cycle.Text("job"));
        Assert.Equal("1045", cycle.Text("material"));
        Assert.Equal("automatic", cycle.Text("mode"));
        Assert.Equal(truth.Blade, cycle.Text("blade"));
        Assert.Equal(truth.PartCount, cycle.Whole("part_count"));
        Near(played.WallOf(truth.Started), cycle.Time("started_at"), sampling, "start of the cycle");
        Near(played.WallOf(truth.Contact!.Value), cycle.Time("cut_started_at"), sampling, "contact");
        Near(played.WallOf(truth.Breakthrough!.Value), cycle.Time("cut_ended_at"), sampling, "breakthrough");
        Near(played.WallOf(truth.Ended), cycle.Time("ended_at"), sampling, "end of the cycle");
        Assert.Equal(truth.CutTimeS!.Value, cycle.Number("cut_time_s"), 2 * sampling.TotalSeconds);

        // 4 cm2 at the job list's 60 cm2/min, and the actual time over it.
        Assert.Equal(SmallSaw.StandardCutS, cycle.Number("standard_cut_time_s"), 1e-9);
        Assert.Equal(4, cycle.Number("cut_area_cm2"), 1e-9);
        Assert.Equal(cycle.Number("cut_time_s") / SmallSaw.StandardCutS, cycle.Number("cut_time_ratio"), 1e-3);
    }

    private static void Near(DateTimeOffset truth, DateTimeOffset? found, TimeSpan tolerance, string what)
    {
        Assert.True(found is not null, $"{what} was not found");
        var off = found.Value - truth;
        Assert.True(off.Duration() <= tolerance, string.Create(CultureInfo.InvariantCulture, $"{what}: {off.TotalMilliseconds:0} ms off, {tolerance.TotalMilliseconds:0} ms allowed"));
    }

    private static List<DateTimeOffset> Frames(GatewayFolder folder, string saw) =>
        [.. Directory.GetFiles(folder.File("recordings")).Order(StringComparer.Ordinal).SelectMany(ReadShared).Where(line => line.Length > 0 && char.IsDigit(line[0]) && line.Split(',')[1] == saw).Select(line => DateTimeOffset.Parse(line[..line.IndexOf(',', StringComparison.Ordinal)], CultureInfo.InvariantCulture))];

    // The gateway is still writing it; the last line may be half a one.
    private static IEnumerable<string> ReadShared(string file)
    {
        using var stream = new FileStream(file, FileMode.Open, FileAccess.Read, FileShare.ReadWrite);
        using var reader = new StreamReader(stream);
        return reader.ReadToEnd().Split('\n')[..^1];
    }
}
