using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Accounts;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.Tests.Accounts;
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
        using var forwarder = new OeeForwarder(Options(server), "North plant", "gateway1", bay.History.Reader, bay.History.Writer, TimeProvider.System, NullLogger<OeeForwarder>.Instance);
        using var stop = new CancellationTokenSource();
        var run = Task.CompletedTask;
        var points = 0L;
        for (var i = 0; i < 6; i++)
        {
            var what = i == 0 ? "at first" : await bay.ChangeAsync();
            await hours.LookAsync(CancellationToken.None);
            if (i == 0)
                run = forwarder.RunAsync(stop.Token);
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

    private static async Task AgreesAsync(MadeBay bay, InfluxServer server, string what)
    {
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
            () => $"{what}: the server agrees with the account: planned {whole.PlannedBusyTime.TotalSeconds}, observed {whole.Observed.TotalSeconds}, good {whole.GoodRunTime.TotalSeconds}, parts {whole[OeeCount.Parts]}, scrap {whole[OeeCount.Scrap]}; there {string.Join(", ", found)}",
            TimeSpan.FromSeconds(30));
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
