using System.Globalization;
using System.Text;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Export;

/// <summary>The table of cycles out of a history, as a replay writes it and other programs read it.</summary>
public sealed class CycleFileTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    [Fact]
    public async Task Cycles_AsCsv_AreThisTable()
    {
        var full = new CycleRecord
        {
            CycleId = "c1",
            Saw = "saw \"1\", left",
            StartedAt = new DateTimeOffset(2026, 3, 2, 7, 0, 0, 250, TimeSpan.FromHours(1)),
            CutStartedAt = Start.AddSeconds(2),
            CutEndedAt = Start.AddSeconds(62.5),
            EndedAt = Start.AddSeconds(70),
            Outcome = CutOutcome.UnobservedEnd,
            Mode = "automatic",
            Job = "J\n1",
            Section = "round 100",
            CutTimeS = 0.1 + 0.2,
            CutTimeRatio = 1e-7,
            CuttingEnergyKj = 1234567890123.5,
            PartCount = 65535,
            Frames = 605,
            Coverage = 1,
            Notes = "hold 3.2 s, x",
        };
        var bare = new CycleRecord { CycleId = "c2", Saw = "s", StartedAt = Start.AddDays(1), EndedAt = Start.AddDays(1), Outcome = CutOutcome.Trim, Frames = 0 };

        Assert.Equal(
            "cycle_id,saw,started_at,cut_started_at,cut_ended_at,ended_at,outcome,mode,job,material,section,part_length_mm,"
            + "blade,cut_area_cm2,cut_time_s,standard_cut_time_s,learned_cut_time_s,learned_low_s,learned_high_s,cut_time_ratio,"
            + "cycle_time_s,standard_cycle_time_s,cutting_rate_cm2_min,mean_descent_mm_min,mean_load_kw,peak_load_kw,idle_load_kw,"
            + "cutting_energy_kj,specific_energy_j_mm3,mean_blade_speed_m_min,load_score,score_level,score_shape,score_pace,"
            + "score_loop,likely_cause,blade_area_m2,part_count,frames,coverage,basis,notes\n"
            + "c1,\"saw \"\"1\"\", left\",2026-03-02T06:00:00.250Z,2026-03-02T06:00:02.000Z,2026-03-02T06:01:02.500Z,2026-03-02T06:01:10.000Z,unobserved_end,automatic,\"J\n1\",,round 100,,"
            + ",,0.30000000000000004,,,,,1E-07,,,,,,,,1234567890123.5,,,,,,,,,,65535,605,1,,\"hold 3.2 s, x\"\n"
            + "c2,s,2026-03-03T06:00:00.000Z,,,2026-03-03T06:00:00.000Z,trim,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,0,,,\n",
            await WriteAsync(full, bare));
    }

    [Fact]
    public async Task Cycles_OfTheSameStart_AreOrderedBySawAndIdentity()
    {
        var text = await WriteAsync(Cycle("b", "s", 0), Cycle("0", "t", 0), Cycle("B", "s", 1), Cycle("a", "s", 0), Cycle("A", "s", 1));
        Assert.Equal(["a", "b", "0", "A", "B"], text.Split('\n')[1..^1].Select(line => line.Split(',')[0]));
    }

    // The reference is another language's CSV module and number reader.
    [PeerFact("python3")]
    public async Task Cycles_AsCsv_AreReadAlikeByPython()
    {
        using var folder = new TempFolder();
        var cycle = Cycle("c", "a,\"b\"\r\nc", 0) with { CutTimeS = 1.0 / 3, PeakLoadKw = 1e300, IdleLoadKw = 5e-324, Notes = " Säge '鋸' " };
        await File.WriteAllTextAsync(folder.File("cycles.csv"), await WriteAsync(cycle));

        var (exit, output) = await Peer.RunAsync(
            "python3",
            ["-X", "utf8", "-c", "import csv,sys;r=list(csv.DictReader(open(sys.argv[1],encoding='utf-8',newline=''),strict=True))[0];print(r['saw'].encode(),float(r['cut_time_s'])==1/3,float(r['peak_load_kw'])==1e300,float(r['idle_load_kw'])==5e-324,r['notes'],len(r))", folder.File("cycles.csv")]);

        Assert.Equal(0, exit);
        Assert.Equal(string.Create(CultureInfo.InvariantCulture, $"b'a,\"b\"\\r\\nc' True True True  Säge '鋸'  {CycleColumns.All.Count}"), output);
    }

    private static CycleRecord Cycle(string id, string saw, int second) =>
        new() { CycleId = id, Saw = saw, StartedAt = Start.AddSeconds(second), EndedAt = Start.AddSeconds(second), Outcome = CutOutcome.Completed, Frames = 1 };

    private static async Task<string> WriteAsync(params CycleRecord[] cycles)
    {
        await using var history = new RunningHistory();
        foreach (var cycle in cycles)
            await history.AppendAsync(cycle);
        using var stream = new MemoryStream();
        var source = ExportSources.Open(history.Reader, new ExportQuestion { Table = ExportTables.Cycles });
        await using var writer = TableFormats.Writer(source.Head, new TableStyle { Format = TableFormat.Csv }, stream);
        Assert.Equal(cycles.Length, await ExportRun.CopyAsync(source, writer, null, CancellationToken.None));
        return Encoding.UTF8.GetString(stream.ToArray());
    }
}
