using System.Text;
using System.Text.Json;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Accounts;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.Accounts;
using SawEdge.Gateway.Tests.Forwarding;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Commands.Outbox;

/// <summary>The points of a period once more, into a server that lost them.</summary>
public sealed class SendingAgainTests
{
    private const string Database = "saws";

    [PeerFact(InfluxServer.Program)]
    public async Task Again_IntoANewServer_BringsThePeriodAndNothingElse_AndMovesNoCursor()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        using var asked = new Asked();
        await using var history = asked.Open();
        for (var i = 0; i < 60; i++)
        {
            // One cycle in two minutes, one alarm a minute.
            await history.AppendAsync(Cycles.Make(i % 2 == 0 ? "north" : "quay", i) with { Frames = i });
            await history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = [Occurrences.Event(Occurrences.Make(i))] }, CancellationToken.None);
        }

        await history.Writer.SaveCursorAsync("one", 17, [], CancellationToken.None);
        var file = Configure(asked, server);

        // Minutes 20 up to 40 of the history: cycles 10 to 19, alarms 20 to 39.
        var (code, output, error) = asked.RunRaw("outbox", "again", "one", "--from", "2026-03-02T06:20:00Z", "--to", "2026-03-02T06:40:00Z", "--config", file);

        Assert.Empty(error);
        Assert.Equal((0, "one took 30 points: 10 cycles, 20 events of alarms, 0 points of 0 hours."), (code, Assert.Single(output)));
        Assert.Equal(Enumerable.Range(10, 10).Sum(), await server.NumberAsync("SELECT sum(frames) FROM cycle", Database));
        Assert.Equal(Enumerable.Range(20, 20).Sum(), await server.NumberAsync("SELECT sum(alarm) FROM alarm", Database));
        Assert.Equal(17, await history.Reader.CursorAsync("one"));
        Assert.Equal(120, await history.Reader.LastSequenceAsync());

        // All of it twice is all of it, and the same points as the forwarder writes.
        asked.RunRaw("outbox", "again", "one", "--config", file);
        using var json = JsonDocument.Parse(string.Concat(asked.RunRaw("outbox", "again", "one", "--config", file, "--format", "json").Output));
        Assert.Equal((60, 60, 0), (json.RootElement.GetProperty("cycles").GetInt32(), json.RootElement.GetProperty("alarm_events").GetInt32(), json.RootElement.GetProperty("refused").GetInt32()));
        await using var forwarder = new RunningForwarder(history, new InfluxOptions { Name = "one", Url = server.Url, Version1 = true, Bucket = Database }, site: "Riverbend");
        await forwarder.ReachesAsync(120);
        Assert.Equal((60, 60), (await server.NumberAsync("SELECT count(frames) FROM cycle", Database), await server.NumberAsync("SELECT count(alarm) FROM alarm", Database)));
    }

    [PeerFact(InfluxServer.Program)]
    public async Task Again_BringsStatesStopsAndFiguresOfTheHours()
    {
        await using var server = await InfluxServer.StartAsync("plant");
        await using var other = await InfluxServer.StartAsync("plant");
        await using var bay = await MadeBay.OfAsync(5, handlingBetween: false);
        await new OeeHours(bay.Oee, bay.Options, bay.History.Reader, bay.History.Writer, bay.Machine, NullLogger<OeeHours>.Instance).LookAsync(CancellationToken.None);
        var told = await bay.History.Reader.LastAccountHourAsync();
        using var stop = new CancellationTokenSource();
        using (var destination = new Destination(Options(server), TimeProvider.System, NullLogger<Destination>.Instance))
        {
            var lane = new HoursLane(destination, "North plant", "gateway1", bay.History.Reader, bay.History.Writer, new StopNames(bay.History.Reader, bay.History.Writer));
            var run = lane.RunAsync(stop.Token);
            await Until.TrueAsync(() => lane.Cursor == told, "the hours are told");
            await stop.CancelAsync();
            await Assert.ThrowsAnyAsync<OperationCanceledException>(() => run);
        }

        using var rebuild = new PointRebuild(Options(other) with { BatchSize = 300 }, "North plant", "gateway1", bay.History.Reader, TimeProvider.System, why => Assert.Fail(why));
        var result = await rebuild.RunAsync(null, null, _ => { }, CancellationToken.None);

        Assert.Null(result.NeedsMending);
        Assert.True(result.Hours > 200);
        foreach (var measurement in (string[])["oee", "state", "stop"])
        {
            var expected = (await server.QueryAsync($"SELECT * FROM {measurement}", "plant")).Select(Row).ToList();
            Assert.True(expected.Count > 50, measurement);
            Assert.Equal(expected, (await other.QueryAsync($"SELECT * FROM {measurement}", "plant")).Select(Row));
        }

        // Of one day the hours that touch it.
        var (from, to) = (MadeBay.Begin.AddDays(2).AddMinutes(30), MadeBay.Begin.AddDays(3));
        using var day = new PointRebuild(Options(other), "North plant", "gateway1", bay.History.Reader, TimeProvider.System, why => Assert.Fail(why));
        var hours = (await day.RunAsync(from, to, _ => { }, CancellationToken.None)).Hours;
        Assert.Equal((await bay.History.Reader.AccountHoursAsync(0, 100_000)).Count(hour => hour.Hour.To > from && hour.Hour.From < to), hours);
        Assert.True(hours is > 5 and < 60);
    }

    [PeerFact(InfluxServer.Program)]
    public async Task Again_PointsThatAreRefused_AreSaidWithTheServersWords_AndAllOthersArrive()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        using (var http = new HttpClient())
        using (var body = new StringContent($"cycle,site=x part_length_mm=\"text\" {Cycles.Start.ToUnixTimeMilliseconds()}"))
            (await http.PostAsync(new Uri(server.Url, $"/write?db={Database}&precision=ms"), body)).EnsureSuccessStatusCode().Dispose();
        using var asked = new Asked();
        await using var history = asked.Open();
        for (var i = 0; i < 40; i++)
            await history.AppendAsync(Cycles.Make("north", i) with { PartLengthMm = i is 7 or 23 ? 250.5 : null });

        var (code, output, _) = asked.RunRaw("outbox", "again", "one", "--config", Configure(asked, server));

        Assert.Equal(2, code);
        Assert.Equal("one took 38 points: 38 cycles, 0 events of alarms, 0 points of 0 hours.", output[0]);
        Assert.Equal("It refused 2 points for good:", output[1]);
        Assert.Equal(["  cycle north-000007", "  cycle north-000023"], output.Where(line => line.StartsWith("  cycle", StringComparison.Ordinal)));
        Assert.Contains("field type conflict", string.Join(' ', output), StringComparison.Ordinal);
        Assert.Equal(38, await server.NumberAsync("SELECT count(frames) FROM cycle", Database));
        Assert.Empty(await history.Reader.RefusalsAsync("one"));
    }

    /// <summary>A server that keeps points for a day only: what is older is refused as it lies, not one by one, and today's arrives.</summary>
    [PeerFact(InfluxServer.Program)]
    public async Task Again_PointsOlderThanTheServerKeepsThem_AreRefusedTogether()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        await server.QueryAsync($"CREATE RETENTION POLICY day ON {Database} DURATION 1d REPLICATION 1 DEFAULT");
        using var asked = new Asked();
        await using var history = asked.Open();
        var today = DateTimeOffset.FromUnixTimeMilliseconds(TimeProvider.System.GetUtcNow().ToUnixTimeMilliseconds());
        for (var i = 0; i < 300; i++)
            await history.AppendAsync(i < 290 ? Cycles.Make("north", i) with { StartedAt = today.AddDays(-60).AddMinutes(i) } : Cycles.Make("north", i) with { StartedAt = today.AddMinutes(-i) });
        var lines = new PointMapper("Riverbend", "hall-2");
        using (var sender = new InfluxSender(Options(server) with { Bucket = Database }, TimeProvider.System))
        {
            var answer = await sender.SendAsync(Encoding.UTF8.GetBytes(string.Join('\n', Enumerable.Range(0, 7).Select(i => lines.ToLine(Cycles.Make("north", i) with { StartedAt = today.AddDays(-60).AddMinutes(i) })))), CancellationToken.None);
            Assert.Equal(("partial write: points beyond retention policy dropped=7", Verdict.SetAside), (answer.Message, DeliveryRules.Judge(answer, 7)));
        }

        var (code, output, _) = asked.RunRaw("outbox", "again", "one", "--config", Configure(asked, server));

        Assert.Equal((2, "It refused 290 points for good:"), (code, output[1]));
        Assert.Equal("  and 270 more", output[^1]);
        Assert.Equal(10, await server.NumberAsync("SELECT count(frames) FROM cycle", Database));
    }

    [PeerFact(InfluxServer.Program)]
    public async Task Again_WithoutTheDatabase_EndsAtOnceAndSaysWhatToMend()
    {
        await using var server = await InfluxServer.StartAsync(null);
        using var asked = new Asked();
        await using var history = asked.Open();
        await history.AppendAsync(Cycles.Make("north", 0));

        var (code, output, error) = asked.RunRaw("outbox", "again", "one", "--config", Configure(asked, server));

        Assert.Equal(2, code);
        Assert.StartsWith("one took 0 points", output[0], StringComparison.Ordinal);
        Assert.Contains("database not found", Assert.Single(error), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Again_ServerAwayForAWhile_SaysItOnceAndGoesOn()
    {
        await using var server = new StrictServer();
        await using var history = new RunningHistory();
        for (var i = 0; i < 10; i++)
            await history.AppendAsync(Cycles.Make("saw0", i));
        var refusals = 0;
        server.Answer = _ => ++refusals is 2 or 3 ? new StrictServer.Reply(503, "{\"message\":\"full\"}", RetryAfter: "0") : StrictServer.Stored;
        var said = new List<string?>();
        using var rebuild = new PointRebuild(Strict(server) with { BatchSize = 4 }, "Riverbend", "hall-2", history.Reader, TimeProvider.System, said.Add);

        var result = await rebuild.RunAsync(null, null, _ => { }, CancellationToken.None);

        Assert.Equal((10, 10), (result.Cycles, server.Points.Count));
        Assert.Equal(["full", null], said);
    }

    /// <summary>A cycle is corrected, and the running gateway has sent the correction, while the former record is on its way.</summary>
    [Fact]
    public async Task Again_ACycleCorrectedOnTheWay_EndsAsItIsNow()
    {
        await using var server = new StrictServer();
        await using var history = new RunningHistory();
        for (var i = 0; i < 6; i++)
            await history.AppendAsync(Cycles.Make("saw0", i));
        var corrections = 0;
        server.Answer = request =>
        {
            if (request.Lines.Any(line => line.Contains("saw0-000003\"", StringComparison.Ordinal)) && corrections < 3)
                history.AppendAsync(Cycles.Make("saw0", 3) with { Outcome = CutOutcome.Interrupted, Frames = 1000 + ++corrections }).GetAwaiter().GetResult();
            return StrictServer.Stored;
        };
        using var rebuild = new PointRebuild(Strict(server), "Riverbend", "hall-2", history.Reader, TimeProvider.System, why => Assert.Fail(why));

        await rebuild.RunAsync(null, Cycles.Start.AddMinutes(9), _ => { }, CancellationToken.None);

        Assert.Equal(3, corrections);
        Assert.Equal(5, server.Points.Count);
        Assert.Contains("frames=1003i", Assert.Single(server.Points, point => point.Value.Contains("saw0-000003\"", StringComparison.Ordinal)).Value, StringComparison.Ordinal);
    }

    private static string Configure(Asked asked, InfluxServer server) => asked.Configure("again.json", ("gateway", "\"gateway1\""), ("influx[1].url", JsonSerializer.Serialize(server.Url)));

    private static InfluxOptions Options(InfluxServer server) => new() { Name = "influx", Url = server.Url, Version1 = true, Bucket = "plant" };

    private static InfluxOptions Strict(StrictServer server) => new() { Name = "main", Url = server.Url, Bucket = "cuts", Organization = "plant", Token = server.Token };

    private static string Row(IReadOnlyDictionary<string, JsonElement> row) => string.Join(' ', row.OrderBy(cell => cell.Key, StringComparer.Ordinal).Select(cell => $"{cell.Key}={cell.Value}"));
}
