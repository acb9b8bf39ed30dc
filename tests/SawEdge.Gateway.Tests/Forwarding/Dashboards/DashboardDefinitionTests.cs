using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Accounts;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.Accounts;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Forwarding.Dashboards;

/// <summary>Every query of every definition in dashboards/ against a real server filled by forwarders, held against the history's own figures.</summary>
public sealed class DashboardDefinitionTests
{
    private const string Database = "plant";
    private const string Site = "North plant";

    // A dot is a letter in a name and something else in a pattern.
    private static readonly string[] AllSaws = ["saw 1.5", "saw 1x5", "saw-2"];

    private static readonly TimeSpan Per = TimeSpan.FromHours(1);

    // So many minutes back that the chosen time begins within the cycles and ends before the last of them.
    private readonly DateTimeOffset _begin = new(TimeProvider.System.GetUtcNow().AddHours(-12).Ticks / TimeSpan.TicksPerSecond * TimeSpan.TicksPerSecond, TimeSpan.Zero);

    private DateTimeOffset From => _begin.AddMinutes(90);

    private DateTimeOffset To => _begin.AddHours(9);

    [PeerFact(InfluxServer.Program)]
    public async Task EveryQuery_GivesTheFiguresOfTheHistory()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        await using var history = new RunningHistory();
        await using var other = new RunningHistory();
        await FillAsync(history, 1);
        await FillAsync(other, 3);
        await using var forwarder = new RunningForwarder(history, Options(server));
        await using var second = new RunningForwarder(other, Options(server), site: "South plant");
        await forwarder.ReachesAsync(await history.Reader.LastSequenceAsync());
        await second.ReachesAsync(await other.Reader.LastSequenceAsync());
        Assert.Empty(await history.Reader.RefusalsAsync("influx"));

        var checks = CycleChecks.All.Concat(AlarmChecks.All).ToDictionary();
        var rules = (await EventsAsync(history, null, null)).Select(happened => happened.Rule).Distinct().Where(rule => rule != "rule1").ToArray();
        var wrong = new List<string>();
        foreach (var query in DashboardFiles.Queries().Where(query => checks.ContainsKey(query.Key)))
        {
            // Of one saw where only one can be chosen; elsewhere of two of the three.
            string[] saws = query.Multiple.Contains("saw") ? [.. AllSaws.Take(2)] : [AllSaws[0]];
            var values = new Dictionary<string, string[]> { ["site"] = [Site], ["saw"] = saws, ["rule"] = rules, ["per"] = ["1h"] };
            var text = DashboardFiles.Fill(query, From, To, values);
            try
            {
                checks[query.Key](await server.QueryAsync(text, Database), await ExpectedAsync(history, saws, rules));
            }
            catch (Exception e) when (e is Xunit.Sdk.XunitException or InvalidOperationException or KeyNotFoundException)
            {
                wrong.Add($"{query.Key}\n{text}\n{e.Message}");
            }
        }

        Assert.True(wrong.Count == 0, string.Join("\n\n", wrong));
    }

    /// <summary>What OEE is made of, over days in which the clock changes, against the figures that the API gives.</summary>
    [PeerTheory(InfluxServer.Program)]
    [InlineData(2, "1h")]
    [InlineData(5, "1d")]
    public async Task EveryQueryOnTime_GivesTheFiguresOfTheApi(int seed, string per)
    {
        await using var server = await InfluxServer.StartAsync(Database);
        await using var bay = await MadeBay.OfAsync(seed, handlingBetween: false);
        await new OeeHours(bay.Oee, bay.Options, bay.History.Reader, bay.History.Writer, bay.Machine, bay.History.Log.For<OeeHours>()).LookAsync(CancellationToken.None);
        await ForwardAsync(bay, server);

        // Whole hours: of the two at the ends a dashboard shows all or nothing, as they begin within the chosen time or before.
        var period = new Period(bay.Period.From.AddDays(1).AddHours(2), bay.Period.To.AddDays(-1).AddHours(-3));
        string[] saws = ["Saw 1"];
        var width = per == "1h" ? TimeSpan.FromHours(1) : TimeSpan.FromDays(1);
        var values = new Dictionary<string, string[]> { ["site"] = [Site], ["saw"] = saws, ["per"] = [per] };
        var wrong = new List<string>();
        foreach (var all in (bool[])[true, false])
        {
            values["saw"] = all ? ["Saw 1", "Saw 2"] : saws;
            var expected = new ExpectedOee(
                Site,
                ["Saw 1", "Saw 2"],
                await SumsAsync(bay, period, OeeEach.Whole, values["saw"], item => item.Subject),
                await SumsAsync(bay, period, OeeEach.Hour, values["saw"], item => (item.Subject, Expected.Bar(item.Time.From, width))),
                await StateBegins.OfAsync(bay, period, values["saw"]));
            foreach (var query in DashboardFiles.Queries().Where(query => OeeChecks.All.ContainsKey(query.Key)))
            {
                var text = DashboardFiles.Fill(query, period.From, period.To.AddMilliseconds(-1), values);
                try
                {
                    OeeChecks.All[query.Key](await server.QueryAsync(text, Database), expected);
                }
                catch (Exception e) when (e is Xunit.Sdk.XunitException or InvalidOperationException or KeyNotFoundException or ArgumentException)
                {
                    wrong.Add($"{query.Key}\n{text}\n{e.Message}");
                }
            }
        }

        Assert.True(wrong.Count == 0, string.Join("\n\n", wrong));
    }

    [PeerFact(InfluxServer.Program)]
    public async Task ExamplesOnTime_GiveTheFiguresOfTheApi()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        await using var bay = await MadeBay.OfAsync(6, handlingBetween: false);
        await new OeeHours(bay.Oee, bay.Options, bay.History.Reader, bay.History.Writer, bay.Machine, bay.History.Log.For<OeeHours>()).LookAsync(CancellationToken.None);
        await ForwardAsync(bay, server);
        var period = new Period(bay.Period.From, bay.Period.To);
        var saws = await SumsAsync(bay, period, OeeEach.Whole, ["Saw 1", "Saw 2"], item => item.Subject);

        // The examples look back from now; the days here lie where they lie.
        var range = $"time >= {period.From.ToUnixTimeMilliseconds()}ms AND time < {period.To.ToUnixTimeMilliseconds()}ms";
        var queries = (await DashboardQueryTests.QueriesAsync("oee.influxql")).Select(query => query.Replace("time > now() - 7d", range, StringComparison.Ordinal).Replace("time > now() - 30d", range, StringComparison.Ordinal)).ToList();
        Assert.Equal(5, queries.Count);
        var figures = await server.QueryAsync(queries[0], Database);
        Assert.Equal(saws.Keys.Order(), figures.Select(row => row["saw"].GetString()!).Order());
        Assert.All(figures, row => Assert.Equal(saws[row["saw"].GetString()!].Figures.Oee, row["oee"].GetDouble(), 1e-9));
        Assert.All(figures, row => Assert.Equal(saws[row["saw"].GetString()!].Figures.Availability, row["availability"].GetDouble(), 1e-9));
        var days = await SumsAsync(bay, period, OeeEach.Hour, ["Saw 1", "Saw 2"], item => Expected.Bar(item.Time.From, TimeSpan.FromDays(1)));
        Expected.Groups(await server.QueryAsync(queries[1], Database), "oee", row => row["time"].GetInt64(), days.Where(day => day.Value.Observed > TimeSpan.Zero), day => day.Key, day => day[0].Value.Figures.Oee);
        foreach (var row in await server.QueryAsync(queries[2], Database))
        {
            var parts = row.Where(cell => cell.Key is not ("time" or "saw" or "planned")).ToList();
            Assert.Equal(Enum.GetValues<OeeBucket>().Length, parts.Count);
            Assert.Equal(saws[row["saw"].GetString()!].PlannedBusyTime.TotalHours, row["planned"].GetDouble(), 1e-9);
            Assert.Equal(row["planned"].GetDouble(), parts.Sum(cell => cell.Value.GetDouble()), 1e-6);
        }

        var stops = OeeBuckets.Total(saws.Values).Stops.OrderByDescending(stop => stop.Time).Take(20).Select(stop => (stop.Class.ToName(), stop.Reason));
        Assert.Equal(stops.Order(), (await server.QueryAsync(queries[3], Database)).Select(row => (Expected.Text(row, "class"), Expected.Text(row, "reason"))).Order());
        var begins = (await StateBegins.OfAsync(bay, period, ["Saw 1", "Saw 2"])).SelectMany(saw => saw.Value, (saw, begin) => (saw.Key, begin.At.ToUnixTimeMilliseconds(), begin.State.ToName(), begin.Reason, begin.Bucket?.ToName() ?? ""));
        Assert.Equal(begins.Order(), (await server.QueryAsync(queries[4], Database)).Select(row => (Expected.Text(row, "saw"), row["time"].GetInt64(), Expected.Text(row, "state"), Expected.Text(row, "reason"), Expected.Text(row, "bucket"))).Order());
    }

    [Fact]
    public void EveryQuery_IsChecked()
    {
        var checks = CycleChecks.All.Keys.Concat(AlarmChecks.All.Keys).Concat(OeeChecks.All.Keys).Concat(PointChecks.All.Keys);
        Assert.Equal(checks.Order(StringComparer.Ordinal), DashboardFiles.Queries().Select(query => query.Key).Order(StringComparer.Ordinal));
    }

    private static async Task ForwardAsync(MadeBay bay, InfluxServer server)
    {
        var last = (await bay.History.Reader.AccountHoursAsync(0, 100_000)).Max(hour => hour.Sequence);
        using var destination = new Destination(Options(server), TimeProvider.System, bay.History.Log.For<Destination>());
        var lane = new HoursLane(destination, Site, "gateway1", bay.History.Reader, bay.History.Writer, new StopNames(bay.History.Reader, bay.History.Writer));
        using var stop = new CancellationTokenSource();
        var run = lane.RunAsync(stop.Token);
        await Until.TrueAsync(() => run.IsCompleted || lane.Cursor >= last, () => $"the cursor reaches {last}; it is at {lane.Cursor}");
        await stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => run);
    }

    private static async Task<Dictionary<TKey, OeeBuckets>> SumsAsync<TKey>(MadeBay bay, Period period, OeeEach each, string[] saws, Func<OeeItem, TKey> key)
        where TKey : notnull =>
        (await bay.Oee.FiguresAsync(new OeeQuestion(period, each, OeeBy.Saw, saws))).GroupBy(key).ToDictionary(group => group.Key, group => OeeBuckets.Total(group.Select(item => item.Buckets)));

    private static async Task<List<AlarmEvent>> EventsAsync(RunningHistory history, DateTimeOffset? from, DateTimeOffset? to)
    {
        var events = new List<AlarmEvent>();
        await foreach (var stored in history.Reader.AlarmEventsAsync(from, to))
            events.Add(stored.Event);
        return [.. events.OrderBy(happened => happened.At)];
    }

    private static InfluxOptions Options(InfluxServer server) => new() { Name = "influx", Url = server.Url, Version1 = true, Bucket = Database, MaximumWait = TimeSpan.FromMilliseconds(50) };

    private async Task<Expected> ExpectedAsync(RunningHistory history, string[] saws, string[] rules)
    {
        var cycles = new List<CycleRecord>();
        await foreach (var record in history.Reader.CyclesAsync(new CycleFilter { Saws = saws, From = From, To = To.AddMilliseconds(1) }))
            cycles.Add(record);
        var open = new List<Alarm>();
        await foreach (var alarm in history.Reader.AlarmsAsync(new AlarmFilter { OnlyOpen = true }))
            open.Add(alarm);
        var events = await EventsAsync(history, From, To.AddMilliseconds(1));
        return new Expected
        {
            Site = Site,
            Per = Per,
            Saws = saws,
            AllSaws = AllSaws,
            Cycles = cycles,
            Events = events,
            RuleEvents = [.. events.Where(happened => rules.Contains(happened.Rule))],
            AllRules = [.. (await EventsAsync(history, null, null)).Select(happened => happened.Rule).Distinct()],
            Open = open,
        };
    }

    private async Task FillAsync(RunningHistory history, int seed)
    {
        for (var i = 0; i < 360; i++)
            await history.AppendAsync(Cycle(i, seed));

        // Many rules, some of which come more often. The last ones stay open, each of a rule of its own: of one rule and subject there is
        // one open alarm at most.
        for (var i = 1; i <= 80; i++)
        {
            var rule = i > 74 ? $"late{i}" : i % 9 == 0 ? "blade_due" : "rule" + (i % 3 == 0 ? 0 : i % 20);
            var alarm = Occurrences.Make(i, AllSaws[i % 3], rule) with { RaisedAt = _begin.AddMinutes((i * 8) + seed), Severity = (AlarmSeverity)(i % 3), Text = $"alarm {i} of {seed}" };
            if (i % 10 == 0)
                alarm = alarm with { Subject = new AlarmSubject(AlarmSubjectKind.Source, "press") };
            await history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = Life(alarm, i) }, CancellationToken.None);
        }
    }

    private CycleRecord Cycle(int i, int seed)
    {
        var saw = AllSaws[i % 3];
        var outcome = (CutOutcome)(i % 13 < 7 ? 0 : i % 7);
        var (cut, standard) = (60 + (i * 7.3 % 40) + seed, 70 + (i % 4 * 5.5));
        var hasStandard = i % 11 != 0;
        var hasArea = i % 5 != 0;
        var start = _begin.AddMinutes(i * 2).AddMilliseconds(i % 3);
        return Cycles.Make(saw, i) with
        {
            StartedAt = start,
            CutStartedAt = start.AddSeconds(4),
            CutEndedAt = start.AddSeconds(4 + cut),
            EndedAt = start.AddSeconds(15 + cut),
            Outcome = outcome,
            Job = $"J-{i % 4}",
            Blade = i < 200 ? "b1" : "b2",
            CutTimeS = i % 17 == 0 ? null : cut,
            StandardCutTimeS = hasStandard ? standard : null,
            CutTimeRatio = hasStandard && i % 17 != 0 ? cut / standard : null,
            LearnedLowS = i > 60 ? 55.5 : null,
            LearnedHighS = i > 60 ? 95.5 : null,
            CutAreaCm2 = hasArea ? 78.5 : null,
            CuttingRateCm2Min = hasArea ? 78.5 / cut * 60 : null,
            MeanLoadKw = 2 + (i * 0.01),
            PeakLoadKw = 3 + (i * 0.01),
            IdleLoadKw = i % 6 == 0 ? null : 0.5 + (i * 0.001),
            CuttingEnergyKj = hasArea ? 120 + (i % 9) : null,
            SpecificEnergyJMm3 = hasArea ? 2 + (i * 0.003) : null,
            LoadScore = i > 30 ? i % 29 * 0.1 : null,
            ScoreLevel = i > 30 ? 0.3 : null,
            ScoreShape = i > 30 ? 0.4 : null,
            ScorePace = i > 30 ? 0.5 : null,
            ScoreLoop = i > 60 ? 0.6 : null,
            LikelyCause = i % 29 > 25 ? "dull blade" : "",
            BladeAreaM2 = hasArea ? (i < 200 ? i : i - 200) * 0.00785 : null,
            Notes = i % 8 == 0 ? "feed hold 3.0 s" : "",
        };
    }

    private static List<AlarmEvent> Life(Alarm alarm, int i)
    {
        var acknowledged = alarm with { State = AlarmState.Acknowledged, AcknowledgedAt = alarm.RaisedAt.AddSeconds(i), AcknowledgedBy = "A" };
        var cleared = acknowledged with { State = AlarmState.Normal, IsActive = false, Verdict = i % 4 == 0 ? AlarmVerdict.Rejected : AlarmVerdict.Confirmed };
        var events = new List<AlarmEvent> { Occurrences.Event(alarm) };
        if (i % 5 == 0)
            events.Add(Occurrences.Event(alarm with { IsChattering = true }, AlarmEventKind.Chattering, 0, AlarmState.Unacknowledged) with { At = alarm.RaisedAt.AddMilliseconds(500) });
        if (i > 74)
            return events;
        events.Add(Occurrences.Event(acknowledged, AlarmEventKind.Acknowledged, i, AlarmState.Unacknowledged, "A"));
        if (i == 70)
            return events;
        events.Add(Occurrences.Event(cleared, AlarmEventKind.Cleared, 90 + i, AlarmState.Acknowledged));
        events.Add(Occurrences.Event(cleared, i % 4 == 0 ? AlarmEventKind.Rejected : AlarmEventKind.Confirmed, 200 + i, AlarmState.Normal, "A"));
        return events;
    }
}
