using Microsoft.Data.Sqlite;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Accounts;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.Accounts;
using SawEdge.Gateway.Tests.Forwarding.Dashboards;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Forwarding;

/// <summary>The figures of the hours into a real 1.x server: sums there are those of the account, before and after something changes.</summary>
public sealed class OeeForwardingTests
{
    private const string Database = "plant";

    [PeerFact(InfluxServer.Program)]
    public async Task Hours_InTheServer_SumToTheAccountAfterEachChange()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        await using var bay = await MadeBay.OfAsync(7, handlingBetween: false);
        var hours = new OeeHours(bay.Oee, bay.Options, bay.History.Reader, bay.History.Writer, bay.Machine, NullLogger<OeeHours>.Instance);
        using var destination = new Destination(Options(server), TimeProvider.System, NullLogger<Destination>.Instance);
        var lane = new HoursLane(destination, "North plant", "gateway1", bay.History.Reader, bay.History.Writer, new StopNames(bay.History.Reader, bay.History.Writer));
        using var stop = new CancellationTokenSource();
        var run = Task.CompletedTask;
        var points = 0L;
        for (var i = 0; i < 6; i++)
        {
            var what = i == 0 ? "at first" : await bay.ChangeAsync();
            await hours.LookAsync(CancellationToken.None);
            if (i == 0)
                run = lane.RunAsync(stop.Token);
            await AgreesAsync(bay, server, what);
            var now = (await server.QueryAsync("SELECT count(planned_busy_s) FROM oee", Database))[0]["count"].GetInt64();
            Assert.True(i == 0 || now == points, $"{what}: {now} points instead of {points}");
            points = now;
        }

        await stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => run);
    }

    [Fact]
    public async Task Look_WithNothingNew_ChangesNothing()
    {
        await using var bay = await MadeBay.OfAsync(2, handlingBetween: true);
        var hours = new OeeHours(bay.Oee, bay.Options, bay.History.Reader, bay.History.Writer, bay.Machine, NullLogger<OeeHours>.Instance);
        await hours.LookAsync(CancellationToken.None);
        var last = await bay.History.Reader.LastAccountHourAsync();
        await hours.LookAsync(CancellationToken.None);
        Assert.Equal(last, await bay.History.Reader.LastAccountHourAsync());
        Assert.True(last > 100);

        // A running state that grows by a minute concerns its shift and not the week.
        var known = (await bay.History.Reader.LastStateAsync("Saw 1"))!;
        await bay.History.Writer.SaveStatesAsync("Saw 1", [known with { To = known.To.AddMinutes(1) }], CancellationToken.None);
        await hours.LookAsync(CancellationToken.None);
        Assert.InRange(await bay.History.Reader.LastAccountHourAsync() - last, 0, 9);
    }

    [Fact]
    public async Task Look_WithAnotherCalendar_WorksAllHoursOutAnew()
    {
        await using var bay = await MadeBay.OfAsync(2, handlingBetween: false);
        await new OeeHours(bay.Oee, bay.Options, bay.History.Reader, bay.History.Writer, bay.Machine, NullLogger<OeeHours>.Instance).LookAsync(CancellationToken.None);
        var options = bay.Options with { Calendar = new CalendarOptions(new ShiftCalendar(bay.Options.Calendar!.Calendar.Plan with { Shifts = [bay.Options.Calendar.Calendar.Plan.Shifts[0]] }), new OeeSettings()) };
        var oee = new OeeService(options, bay.History.Reader, bay.History.Writer, bay.Machine);
        await new OeeHours(oee, options, bay.History.Reader, bay.History.Writer, bay.Machine, NullLogger<OeeHours>.Instance).LookAsync(CancellationToken.None);
        var stored = (await bay.History.Reader.AccountHoursAsync(0, 100_000)).Where(hour => hour.Saw == "Saw 1" && hour.Hour.From >= bay.Period.From && hour.Hour.To <= bay.Period.To).ToList();
        var whole = (await oee.FiguresAsync(new OeeQuestion(bay.Period, OeeEach.Whole, OeeBy.Saw, ["Saw 1"])))[0].Buckets;

        Assert.Equal(whole.PlannedBusyTime, stored.Aggregate(TimeSpan.Zero, (sum, hour) => sum + hour.Part.Buckets.PlannedBusyTime));
        Assert.Null(await bay.History.Reader.OtherAccountHoursAsync("Saw 1", oee.HourSettingsOf(options.Saws[0])));
    }

    /// <summary>What happens while the server is gone and the gateway is not running is told afterwards, and what does not hold any more is not left standing.</summary>
    [PeerFact(InfluxServer.Program)]
    public async Task StatesAndStops_AfterAnOutageAndARestart_AreThoseOfTheApi()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        await using var bay = await MadeBay.OfAsync(3, handlingBetween: false);
        await ToldAsync(bay, server, () => AgreesAsync(bay, server, "at first"));

        // A reason that tries to do harm parts a stop, and is withdrawn while nobody takes it.
        var stop = (await bay.Oee.StopsAsync(bay.Options.Saws[0], bay.Period, TimeSpan.FromMinutes(10)))[0].Stretch.Time;
        var audit = new AuditEntry("ana", AuditEntry.Command, "stop.reason", "Saw 1");
        var entry = new StopReason(new Period(stop.From.AddMinutes(2), stop.From.AddMinutes(5)), "no, bar=\"x\" <script>\\\nstop,saw=Saw\\ 2 time_s=9 1", StopClass.Down, bay.Period.To, "ana");
        var entered = await bay.History.Writer.EnterStopReasonAsync("Saw 1", entry, audit, CancellationToken.None);
        await ToldAsync(bay, server, () => AgreesAsync(bay, server, "with a reason"));
        await server.KillAsync();
        await ToldAsync(bay, server, async () =>
        {
            await bay.History.Writer.WithdrawStopReasonAsync(entered, audit, CancellationToken.None);
            await Hours(bay).LookAsync(CancellationToken.None);
            await server.StartAgainAsync();
            await AgreesAsync(bay, server, "after the reason was withdrawn");
        });
        var hostile = await server.QueryAsync("SELECT sum(time_s) FROM stop WHERE reason =~ /script/ GROUP BY reason", Database);
        Assert.Equal((LineText.Tag(entry.Reason), 0), (Assert.Single(hostile)["reason"].GetString(), hostile[0]["sum"].GetDouble()));
    }

    [Fact]
    public async Task Look_AtASawThatIsNotSeenAnyMore_TellsIt()
    {
        await using var bay = await MadeBay.OfAsync(2, handlingBetween: false);
        await Hours(bay).LookAsync(CancellationToken.None);
        var last = (await bay.History.Reader.LastStateAsync("Saw 1"))!;
        bay.Machine.SetUtcNow(last.To.AddHours(30));
        await Hours(bay).LookAsync(CancellationToken.None);

        var dark = new Period(last.To, last.To.AddHours(29));
        var told = (await bay.History.Reader.AccountHoursAsync(0, 100_000)).Where(hour => hour.Saw == "Saw 1" && hour.Hour.To > dark.From).ToList();
        Assert.Equal(TimelineState.Unknown, told.SelectMany(hour => hour.Begins).First(begin => begin.At >= dark.From).State);
        Assert.All(told.SelectMany(hour => hour.Begins).Where(begin => begin.At >= dark.From), begin => Assert.Equal(TimelineState.Unknown, begin.State));
        var planned = bay.Options.Calendar!.Calendar.PlannedTime(dark, "Saw 1");
        Assert.True(planned > TimeSpan.FromHours(5));
        Assert.True(told.Aggregate(TimeSpan.Zero, (sum, hour) => sum + hour.Part.Buckets[OeeBucket.Unknown]) >= planned);

        var changes = await bay.History.Reader.LastAccountHourAsync();
        await Hours(bay).LookAsync(CancellationToken.None);
        Assert.Equal(changes, await bay.History.Reader.LastAccountHourAsync());
    }

    [Fact]
    public async Task Look_WithoutACalendar_TellsStatesAllTheSame()
    {
        await using var bay = await MadeBay.OfAsync(4, handlingBetween: false);
        var options = bay.Options with { Calendar = new CalendarOptions(new ShiftCalendar(new CalendarPlan { Zone = bay.Options.TimeZone }), new OeeSettings()) };
        await new OeeHours(new OeeService(options, bay.History.Reader, bay.History.Writer, bay.Machine), options, bay.History.Reader, bay.History.Writer, bay.Machine, NullLogger<OeeHours>.Instance).LookAsync(CancellationToken.None);
        var told = (await bay.History.Reader.AccountHoursAsync(0, 100_000)).Where(hour => hour.Saw == "Saw 1").OrderBy(hour => hour.Hour.From).SelectMany(hour => hour.Begins).Where(begin => begin.At >= bay.Period.From && begin.At < bay.Period.To).ToList();

        // As the API shows them where there is no calendar.
        var bare = new OeeService(bay.Options with { Calendar = null }, bay.History.Reader, null, bay.Machine);
        var line = (await bare.TimelineAsync(bay.Options.Saws[0], new Period(bay.Period.From.AddHours(-1), bay.Period.To))).States.Select(StateBegins.Of).Skip(1).Where(begin => begin.At >= bay.Period.From);
        Assert.Equal(line, told);
        Assert.All(told, begin => Assert.Null(begin.Bucket));
    }

    /// <summary>A program that knew only the figures left its hours behind: they are read, and told anew with their states.</summary>
    [Fact]
    public async Task Look_AtHoursOfAnOlderProgram_TellsTheirStates()
    {
        await using var bay = await MadeBay.OfAsync(2, handlingBetween: false);
        await Hours(bay).LookAsync(CancellationToken.None);
        var whole = await bay.History.Reader.AccountHoursAsync(0, 100_000);
        foreach (var saw in bay.Options.Saws)
            await bay.History.Writer.SaveAccountHoursAsync(bay.Oee.SettingsOf(saw), [.. whole.Where(hour => hour.Saw == saw.Name)], CancellationToken.None);
        using (var connection = new SqliteConnection($"Data Source={bay.History.FilePath};Pooling=False"))
        {
            connection.Open();
            foreach (var hour in whole)
            {
                using var command = connection.CreateCommand();
                command.CommandText = "UPDATE account_hours SET data = @data WHERE seq = @seq";
                command.Parameters.AddWithValue("@data", AccountSumsCodec.Encode([hour.Part]));
                command.Parameters.AddWithValue("@seq", hour.Sequence);
                command.ExecuteNonQuery();
            }
        }

        Assert.All(await bay.History.Reader.AccountHoursAsync(0, 100_000), hour => Assert.Empty(hour.Begins));
        await Hours(bay).LookAsync(CancellationToken.None);
        var again = (await bay.History.Reader.AccountHoursAsync(0, 100_000)).ToDictionary(hour => (hour.Saw, hour.Hour.From));
        Assert.All(whole, hour => Assert.Equal(hour.Begins, again[(hour.Saw, hour.Hour.From)].Begins));
    }

    [Fact]
    public async Task Decode_WhatBreaksOff_IsDamaged()
    {
        await using var bay = await MadeBay.OfAsync(2, handlingBetween: false);
        await Hours(bay).LookAsync(CancellationToken.None);
        var hour = (await bay.History.Reader.AccountHoursAsync(0, 100_000)).First(hour => hour.Begins.Count > 1) with { FormerStops = [(StopClass.Down, "fault 9")] };
        var data = AccountHourCodec.Encode(hour);
        var sums = AccountSumsCodec.Encode([hour.Part]).Length;
        for (var length = 0; length < data.Length; length++)
        {
            if (length != sums)
                Assert.Throws<InvalidDataException>(() => AccountHourCodec.Decode(hour.Saw, hour.Hour, 1, data[..length]));
        }

        var read = AccountHourCodec.Decode(hour.Saw, hour.Hour, 1, data);
        Assert.Equal(hour.Begins, read.Begins);
        Assert.Equal(hour.FormerStops, read.FormerStops);
    }

    private static OeeHours Hours(MadeBay bay) => new(bay.Oee, bay.Options, bay.History.Reader, bay.History.Writer, bay.Machine, NullLogger<OeeHours>.Instance);

    // What a gateway does from its start to its end.
    private static async Task ToldAsync(MadeBay bay, InfluxServer server, Func<Task> meanwhile)
    {
        await Hours(bay).LookAsync(CancellationToken.None);
        using var destination = new Destination(Options(server), TimeProvider.System, NullLogger<Destination>.Instance);
        var lane = new HoursLane(destination, "North plant", "gateway1", bay.History.Reader, bay.History.Writer, new StopNames(bay.History.Reader, bay.History.Writer));
        using var stop = new CancellationTokenSource();
        var run = lane.RunAsync(stop.Token);
        await meanwhile();
        await stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => run);
    }

    // A point says what holds at its time, and where the timeline of the API has a begin there is one.
    private static async Task<string?> OfStatesAsync(MadeBay bay, InfluxServer server)
    {
        var rows = await server.QueryAsync($"SELECT state, reason, bucket FROM state WHERE {Range(bay.Period)} GROUP BY saw", Database);
        foreach (var saw in (string[])["Saw 1", "Saw 2"])
        {
            var found = rows.Where(row => row["saw"].GetString() == saw).ToDictionary(row => row["time"].GetInt64(), row => (row["state"].GetString()!, row["reason"].GetString()!, row["bucket"].GetString()!));
            var line = (await StateBegins.TimelineAsync(bay, saw, new Period(bay.Period.From.AddHours(-1), bay.Period.To))).Select(StateBegins.Of).ToList();
            var missing = line.Skip(1).Where(begin => begin.At >= bay.Period.From && !found.ContainsKey(begin.At.ToUnixTimeMilliseconds())).ToList();
            if (missing.Count > 0)
                return $"{saw} has no point at {missing[0]}";
            foreach (var (time, told) in found)
            {
                var holds = line.Last(begin => begin.At.ToUnixTimeMilliseconds() <= time);
                if (told != (holds.State.ToName(), LineText.Field(holds.Reason), holds.Bucket?.ToName() ?? ""))
                    return $"{saw} at {DateTimeOffset.FromUnixTimeMilliseconds(time):O}: {told} instead of {holds}";
            }
        }

        return null;
    }

    private static async Task<string?> OfStopsAsync(MadeBay bay, InfluxServer server)
    {
        var rows = await server.QueryAsync($"SELECT sum(time_s) FROM stop WHERE {Range(bay.Period)} GROUP BY saw, class, reason", Database);
        var found = rows.Where(row => row["sum"].GetDouble() > 0).ToDictionary(row => (row["saw"].GetString()!, row["class"].GetString()!, row["reason"].GetString()!), row => row["sum"].GetDouble());
        var wanted = (await bay.Oee.FiguresAsync(new OeeQuestion(bay.Period, OeeEach.Whole))).SelectMany(item => item.Buckets.Stops, (item, stop) => (Key: (item.Subject, stop.Class.ToName(), LineText.Tag(stop.Reason)), stop.Time.TotalSeconds)).Where(stop => stop.TotalSeconds > 0).ToList();
        if (!wanted.Select(stop => stop.Key).Order().SequenceEqual(found.Keys.Order()))
            return $"stops {string.Join(", ", found.Keys)} instead of {string.Join(", ", wanted.Select(stop => stop.Key))}";
        return wanted.Where(stop => Math.Abs(found[stop.Key] - stop.TotalSeconds) > 1e-3).Select(stop => $"{stop} is {found[stop.Key]} there").FirstOrDefault();
    }

    private static string Range(Period period) => $"time >= {period.From.ToUnixTimeMilliseconds()}ms AND time < {period.To.ToUnixTimeMilliseconds()}ms";

    private static async Task AgreesAsync(MadeBay bay, InfluxServer server, string what)
    {
        var other = "";
        await Until.TrueAsync(async () => (other = await OfStatesAsync(bay, server) ?? await OfStopsAsync(bay, server) ?? "").Length == 0, () => $"{what}: states and stops are those of the API: {other}");
        var whole = (await bay.Oee.FiguresAsync(new OeeQuestion(bay.Period, OeeEach.Whole, OeeBy.Site)))[0].Buckets;
        var (from, to) = (bay.Period.From.ToUnixTimeMilliseconds(), bay.Period.To.ToUnixTimeMilliseconds());
        var query = $"SELECT sum(planned_busy_s), sum(observed_s) AS observed, sum(good_run_s) AS good, sum(actual_production_s) AS apt, sum(parts) AS parts, sum(scrap) AS scrap, sum(stops_by_reason_s) AS stops FROM oee WHERE time >= {from}ms AND time < {to}ms";
        Dictionary<string, double> found = [];
        await Until.TrueAsync(
            async () =>
            {
                found = (await server.QueryAsync(query, Database)).SelectMany(row => row).Where(cell => cell.Key != "time").ToDictionary(cell => cell.Key, cell => cell.Value.GetDouble());
                return found.Count > 0
                    && Math.Abs(found["sum"] - whole.PlannedBusyTime.TotalSeconds) < 1e-3 && Math.Abs(found["observed"] - whole.Observed.TotalSeconds) < 1e-3
                    && Math.Abs(found["good"] - whole.GoodRunTime.TotalSeconds) < 1e-3 && Math.Abs(found["apt"] - whole.ActualProductionTime.TotalSeconds) < 1e-3
                    && found["parts"] == whole[OeeCount.Parts] && found["scrap"] == whole[OeeCount.Scrap] && Math.Abs(found["stops"] - whole[OeeBucket.StopsByReason].TotalSeconds) < 1e-3;
            },
            () => $"{what}: the server agrees with the account: planned {whole.PlannedBusyTime.TotalSeconds}, observed {whole.Observed.TotalSeconds}, good {whole.GoodRunTime.TotalSeconds}, parts {whole[OeeCount.Parts]}, scrap {whole[OeeCount.Scrap]}; there {string.Join(", ", found)}");
    }

    private static InfluxOptions Options(InfluxServer server) => new()
    {
        Name = "influx",
        Url = server.Url,
        Version1 = true,
        Bucket = Database + "/autogen",
        MaximumWait = TimeSpan.FromMilliseconds(50),
    };
}
