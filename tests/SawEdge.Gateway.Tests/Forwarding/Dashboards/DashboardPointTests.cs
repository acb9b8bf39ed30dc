using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.Forwarding.Points;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Forwarding.Dashboards;

/// <summary>The queries on profiles and on the gateway's health against a real server filled by the lanes, held against the history.</summary>
public sealed class DashboardPointTests
{
    private const string Database = "plant";

    private readonly DateTimeOffset _begin = new(TimeProvider.System.GetUtcNow().AddHours(-12).Ticks / TimeSpan.TicksPerSecond * TimeSpan.TicksPerSecond, TimeSpan.Zero);

    [PeerFact(InfluxServer.Program)]
    public async Task EveryQuery_GivesTheFiguresOfTheHistory()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        await using var history = new RunningHistory();
        var (from, to) = (_begin.AddMinutes(30), _begin.AddHours(9));
        var cuts = new List<(CycleRecord Cycle, DepthProfile Profile)>();
        for (var i = 0; i < 200; i++)
        {
            // A job as a person may type it.
            var record = Cycles.Make("saw " + (i % 2), i) with { StartedAt = _begin.AddMinutes(i * 2), Job = i % 6 < 2 ? "it's \"A\\1\"" : "B", Outcome = i % 11 == 0 ? CutOutcome.Aborted : CutOutcome.Completed };
            cuts.Add((record, Cycles.Profile(i % 13)));
            await history.Writer.AppendAsync(new FinishedCycle { Record = record, Profile = cuts[^1].Profile }, CancellationToken.None);
        }

        var reports = new List<HealthReport>();
        for (var minute = 0; minute < 600; minute++)
        {
            var report = Health.Full(minute);
            reports.Add(report with
            {
                At = _begin.AddMinutes(minute),
                ProcessorS = minute % 7,
                MemoryBytes = 100_000_000 + (minute * 1000),
                Saws = [.. report.Saws.Select(saw => saw with { Frames = saw.Frames + (minute % 5), SilenceS = minute % 50 == 0 ? 100 : saw.SilenceS })],
                Destinations = [.. report.Destinations.Select(one => one with { Waiting = one.Waiting + (minute % 9), LagS = one.LagS + (minute % 4) })],
            });
            await history.Writer.SaveHealthAsync(reports[^1], CancellationToken.None);
        }

        foreach (var (choice, place) in new[] { (PointChoice.Cycles, 200L), (PointChoice.Profiles, 200L), (PointChoice.Gateway, 600L) })
        {
            await using var lane = new RunningLane(history, RunningLane.Options(server, choice));
            await lane.ReachesAsync(place);
        }

        var of = cuts.Where(cut => cut.Cycle.Saw == "saw 1").ToList();
        var expected = new ExpectedPoints("North plant", "gateway1", of[0].Cycle.Job, TimeSpan.FromHours(1), [.. of.Where(cut => cut.Cycle.StartedAt >= from && cut.Cycle.StartedAt <= to)], [.. of.Select(cut => cut.Cycle.Job).Distinct()], [.. reports.Where(report => report.At >= from && report.At <= to)]);
        var values = new Dictionary<string, string[]> { ["site"] = [expected.Site], ["gateway"] = [expected.Gateway], ["saw"] = ["saw 1"], ["job"] = [expected.Job], ["per"] = ["1h"] };
        var wrong = new List<string>();
        foreach (var query in DashboardFiles.Queries().Where(query => PointChecks.All.ContainsKey(query.Key)))
        {
            var text = DashboardFiles.Fill(query, from, to, values);
            try
            {
                PointChecks.All[query.Key](await server.QueryAsync(text, Database), expected);
            }
            catch (Exception e) when (e is Xunit.Sdk.XunitException or InvalidOperationException or KeyNotFoundException or ArgumentException)
            {
                wrong.Add($"{query.Key}\n{text}\n{e.Message}");
            }
        }

        Assert.True(wrong.Count == 0, string.Join("\n\n", wrong));
    }
}
