using System.Globalization;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Forwarding.Points;

/// <summary>Profiles, signals and the gateway's health into a real server: all of it, once, through outages.</summary>
public sealed class LaneTests
{
    private const string Database = "plant";
    private static readonly DateTimeOffset Begin = Cycles.Start;

    [PeerFact(InfluxServer.Program)]
    public async Task Profiles_ArriveWhole_AndACorrectionReplacesThem()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        await using var history = new RunningHistory();
        for (var i = 0; i < 30; i++)
            await history.Writer.AppendAsync(new FinishedCycle { Record = Cycles.Make("saw 1", i) with { Job = i % 2 == 0 ? "A" : "B", CutTimeS = i == 7 ? null : 75.802 }, Profile = i == 7 ? null : Cycles.Profile(i) }, CancellationToken.None);
        await using var lane = new RunningLane(history, RunningLane.Options(server, PointChoice.Profiles) with { BatchSize = 500 });
        await lane.ReachesAsync(30);
        Assert.Equal(29 * DepthProfile.DefaultBins, await server.NumberAsync("SELECT count(time_s) FROM load_profile", Database));

        // One cut, by the time of its cycle.
        var one = await server.QueryAsync($"SELECT depth_from_mm, time_s, mean_load_kw FROM load_profile WHERE saw = 'saw 1' AND time >= {Begin.AddMinutes(8).ToUnixTimeMilliseconds()}ms AND time < {Begin.AddMinutes(8).ToUnixTimeMilliseconds()}ms + 1s", Database);
        var profile = Cycles.Profile(4);
        Assert.Equal(profile.Seconds.Select(seconds => (double)seconds), one.Select(row => row["time_s"].GetDouble()));
        Assert.Equal(one.Select(row => row["depth_from_mm"].GetDouble()).Order(), one.Select(row => row["depth_from_mm"].GetDouble()));

        // Cuts of one job over one another: the mean of a bin.
        var means = (await server.QueryAsync("SELECT mean(time_s) FROM load_profile WHERE job = 'A' GROUP BY bin", Database)).ToDictionary(row => row["bin"].GetString()!, row => row["mean"].GetDouble());
        Assert.Equal(DepthProfile.DefaultBins, means.Count);
        Assert.Equal(Enumerable.Range(0, 15).Average(i => Cycles.Profile(2 * i).Seconds[4]), means["05"], 1e-6);

        await history.Writer.AppendAsync(new FinishedCycle { Record = Cycles.Make("saw 1", 4) with { Job = "C", Outcome = CutOutcome.Aborted }, Profile = Cycles.Profile(5) }, CancellationToken.None);
        await lane.ReachesAsync(31);
        Assert.Equal(29 * DepthProfile.DefaultBins, await server.NumberAsync("SELECT count(time_s) FROM load_profile", Database));
        Assert.Equal(Cycles.Profile(5).Seconds.Sum(), await server.NumberAsync("SELECT sum(time_s) FROM load_profile WHERE job = 'C'", Database), 1e-6);
        Assert.DoesNotContain(lane.Log.Entries, entry => entry.Id is not 5001);
    }

    [PeerFact(InfluxServer.Program)]
    public async Task Profiles_ThatWereClearedAwayBefore_AreCounted_AndSaidOnce()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        await using var history = new RunningHistory();
        for (var i = 0; i < 20; i++)
            await history.Writer.AppendAsync(Evidences.Row(Cycles.Make("saw 1", i), i), CancellationToken.None);
        history.Ask("DELETE FROM profiles WHERE cycle <= 12");
        history.Ask("DELETE FROM evidence WHERE cycle <= 12");
        history.Ask("DELETE FROM assessments WHERE cycle <= 12");

        await using (var lane = new RunningLane(history, RunningLane.Options(server, PointChoice.Profiles) with { BatchSize = 4 * DepthProfile.DefaultBins }))
        {
            await lane.ReachesAsync(20);
            Assert.Equal([5020, 5021], lane.Log.Entries.Select(entry => entry.Id));
        }

        Assert.Equal(8, await server.NumberAsync("SELECT count(distinct(cycle_id)) FROM load_profile", Database));
        Assert.Equal(12, (await history.Reader.GoneAsync())["influx/profiles"]);

        // Who comes to them again, as after a crash, does not count them again.
        await history.Writer.SaveCursorAsync("influx/profiles", 3, [], CancellationToken.None);
        await using var again = new RunningLane(history, RunningLane.Options(server, PointChoice.Profiles));
        await again.ReachesAsync(20);
        Assert.Equal(12, (await history.Reader.GoneAsync())["influx/profiles"]);
    }

    [PeerFact(InfluxServer.Program)]
    public async Task Signals_ThroughAnOutage_ArriveOnce_WithWhatWasStoredAgainAndWhatCameLate()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        await using var history = new RunningHistory();
        await history.Writer.SaveSamplesAsync([Sample("before", 0, 100)], CancellationToken.None);
        var options = RunningLane.Options(server, PointChoice.Signals) with { BatchSize = 300 };
        var expected = new Dictionary<(string Saw, int At), int>();
        await using (var lane = new RunningLane(history, options))
        {
            await StoreAsync(history, expected, 0, 100);
            await lane.ReachesAsync(await history.Reader.LastSampleAsync());
            await server.KillAsync();
            await StoreAsync(history, expected, 100, 300);
            await Until.TrueAsync(() => lane.InTrouble, "the lane notices");
        }

        // An interval that is stored again with more frames, and one of an hour before.
        foreach (var at in (int[])[120, -360])
            await history.Writer.SaveSamplesAsync([Sample("saw 2", at, expected[("saw 2", at)] = 77)], CancellationToken.None);
        await server.StartAgainAsync();
        await using var next = new RunningLane(history, options);
        await StoreAsync(history, expected, 300, 330);
        await next.ReachesAsync(await history.Reader.LastSampleAsync());

        var rows = await server.QueryAsync("SELECT frames, mean, min, max, last FROM signal WHERE signal = 'motor_load' GROUP BY saw", Database);
        Assert.Equal(
            expected.Select(pair => (pair.Key.Saw, Time: Begin.AddSeconds(10 * pair.Key.At).ToUnixTimeMilliseconds(), pair.Value)).Order(),
            rows.Select(row => (row["saw"].GetString()!, row["time"].GetInt64(), row["frames"].GetInt32())).Order());
        Assert.All(rows, row => Assert.Equal((2.5, 0, 5, 1), (row["mean"].GetDouble(), row["min"].GetDouble(), row["max"].GetDouble(), row["last"].GetDouble())));
        Assert.Equal(["before"], (await ReadAsync(history)).Select(stored => stored.Saw).Except(expected.Keys.Select(key => key.Saw)));
    }

    /// <summary>What a destination is still to get stays past its time; only the budget takes it, and it is counted.</summary>
    [Fact]
    public async Task Signals_OfADestinationThatIsAway_StayPastTheirTime_AndGoOnlyForRoom()
    {
        await using var history = new RunningHistory();
        history.Writer.SamplesAreWanted = true;
        await history.Writer.SaveSamplesAsync([.. Enumerable.Range(0, 100).Select(i => Sample("saw 1", i, 100))], CancellationToken.None);
        await history.Writer.SaveCursorAsync("near/signals", 100, [], CancellationToken.None);
        await history.Writer.SaveCursorAsync("far/signals", 40, [], CancellationToken.None);
        var takers = new Takers(["near/signals", "far/signals"]);

        Assert.Equal(40, await history.Writer.DeleteSamplesAsync(Begin.AddDays(1), 500, takers, CancellationToken.None));
        Assert.Equal(0, await history.Writer.DeleteSamplesAsync(Begin.AddDays(1), 500, takers, CancellationToken.None));
        Assert.Empty(await history.Reader.GoneAsync());
        Assert.Equal(50, await history.Writer.DeleteSamplesAsync(Begin.AddSeconds(900), 500, takers with { GiveUp = true }, CancellationToken.None));
        Assert.Equal(50, Assert.Single(await history.Reader.GoneAsync(), gone => gone.Key == "far/signals").Value);
        Assert.DoesNotContain("near/signals", await history.Reader.GoneAsync());

        // Numbers go on behind what destinations are done with, whatever was cleared away.
        await history.Writer.DeleteSamplesAsync(Begin.AddDays(1), 500, takers with { GiveUp = true }, CancellationToken.None);
        await history.Writer.SaveSamplesAsync([Sample("saw 1", 200, 1)], CancellationToken.None);
        Assert.Equal(101, Assert.Single(await history.Reader.SamplesAfterAsync(100, 10)).Sequence);
    }

    [PeerFact(InfluxServer.Program)]
    public async Task Health_ArrivesInOrder_AndIsKeptUntilItDid()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        await using var history = new RunningHistory();
        for (var minute = 0; minute < 250; minute++)
            await history.Writer.SaveHealthAsync(Health.Full(minute), CancellationToken.None);
        var takers = new Takers(["influx/gateway"]);
        Assert.Equal(0, await history.Writer.DeleteHealthAsync(Begin.AddDays(1), 500, takers, CancellationToken.None));
        await using var lane = new RunningLane(history, RunningLane.Options(server, PointChoice.Gateway));
        await lane.ReachesAsync(250);

        Assert.Equal(250 * 600, await server.NumberAsync("SELECT sum(frames) FROM gateway", Database));
        Assert.Equal(500, await server.NumberAsync("SELECT count(frames) FROM gateway_saw", Database));
        Assert.Equal(7, await server.NumberAsync("SELECT max(waiting) FROM gateway_destination WHERE destination = 'influx'", Database));
        Assert.Equal(249, await history.Writer.DeleteHealthAsync(Begin.AddMinutes(249), 500, takers, CancellationToken.None));
    }

    /// <summary>Whatever a controller sends as fault codes, jobs, modes, bars or blades, the number of series stays what the configuration and the table say.</summary>
    [PeerFact(InfluxServer.Program)]
    public async Task HostileInput_MakesNoMoreSeriesThanTheTableSays()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        await using var history = new RunningHistory();
        var random = new Random(3);
        string Any() => $"{(char)random.Next(32, 0xD7FF)}{random.NextInt64()}";
        for (var i = 0; i < 400; i++)
        {
            var record = Cycles.Make("saw " + (i % 2), i) with { Job = Any(), Mode = Any(), Material = Any(), Section = Any(), Blade = Any(), LikelyCause = Any(), Notes = Any(), Basis = Any() };
            await history.Writer.AppendAsync(new FinishedCycle { Record = record, Profile = Cycles.Profile(i % 9) }, CancellationToken.None);
            await history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = [Occurrences.Event(Occurrences.Make(i) with { Text = Any(), Cause = Any(), CycleId = Any() }, note: Any())] }, CancellationToken.None);
            var period = new Period(Begin.AddHours(i), Begin.AddHours(i + 1));
            var hour = new AccountHour("saw 1", period, new AccountPart(OeeBuckets.Total([]), CounterSum.None), 0)
            {
                Begins = [new StateBegin(period.From, TimelineState.OutOfService, Any(), OeeBucket.StopsByReason)],
                FormerStops = [(StopClass.Down, string.Create(CultureInfo.InvariantCulture, $"fault {random.NextInt64()}")), (StopClass.Delay, Any())],
            };
            await history.Writer.SaveAccountHoursAsync(1, [hour], CancellationToken.None);
        }

        foreach (var choice in (PointChoice[])[PointChoice.Cycles | PointChoice.Alarms, PointChoice.Hours, PointChoice.Profiles])
        {
            await using var lane = new RunningLane(history, RunningLane.Options(server, choice));
            await lane.ReachesAsync(choice == PointChoice.Hours ? await history.Reader.LastAccountHourAsync() : await history.Reader.LastSequenceAsync());
        }

        var series = (await server.QueryAsync("SHOW SERIES", Database)).Select(row => row["key"].GetString()!).CountBy(key => key[..key.IndexOf(',', StringComparison.Ordinal)]).ToDictionary();
        Assert.Equal(2, series["cycle"]);
        Assert.Equal(2 * DepthProfile.DefaultBins, series["load_profile"]);
        Assert.Equal((1, 1, 1), (series["alarm"], series["oee"], series["state"]));
        Assert.Equal(StopNames.MostFaults + 1 + StopNames.MostReasons + 1, series["stop"]);
        Assert.Equal(800, await server.NumberAsync("SELECT count(time_s) FROM stop", Database));
    }

    private static async Task StoreAsync(RunningHistory history, Dictionary<(string Saw, int At), int> expected, int from, int to)
    {
        for (var at = from; at < to; at++)
        {
            expected[("saw 1", at)] = 100;
            expected[("saw 2", at)] = 50;
            await history.Writer.SaveSamplesAsync([Sample("saw 1", at, 100), Sample("saw 2", at, 50)], CancellationToken.None);
        }
    }

    private static SawSample Sample(string saw, int at, int frames)
    {
        var figures = new SignalFigures[SignalSample.Signals.Count];
        figures[1] = new SignalFigures(frames, 2.5f, 0, 5, 1);
        figures[3] = new SignalFigures(frames, 1, 1, 1, 1);
        return new SawSample(saw, new SignalSample(Begin.AddSeconds(10 * at), TimeSpan.FromSeconds(10), frames, figures));
    }

    private static async Task<List<SawSample>> ReadAsync(RunningHistory history)
    {
        var samples = new List<SawSample>();
        await foreach (var sample in history.Reader.SamplesAsync(SampleFilter.All))
            samples.Add(sample);
        return samples;
    }
}
