using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Accounts;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Hosting;
using SawEdge.Gateway.Tests.Api;
using SawEdge.Gateway.Tests.Configuration;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Hosting;

public sealed class OeeWatchTests
{
    private static readonly DateTimeOffset Shift = new(2026, 3, 2, 5, 0, 0, TimeSpan.Zero);

    [Fact]
    public async Task Look_BeforeHalfAnHourOfPlannedTime_KnowsNothing()
    {
        await using var history = new RunningHistory();
        await StandAsync(history, minutes: 29);
        var watch = await LookedAsync(history, minutes: 29);

        Assert.True(double.IsNaN(watch.Probes[0].Read().Value));
    }

    [Fact]
    public async Task Look_AfterIt_TellsTheFigureOfTheShiftSoFar()
    {
        await using var history = new RunningHistory();
        await history.Writer.SaveStatesAsync("saw-1", [new StateSegment(Shift.AddHours(-2), Shift.AddMinutes(10), TimelineState.Executing)], CancellationToken.None);
        await StandAsync(history, minutes: 40, from: 10);
        var watch = await LookedAsync(history, minutes: 41);
        var probe = Assert.Single(watch.Probes, probe => probe.Subject.Name == "saw-1");

        // What the last minute brought is not stored yet; it is no unknown time.
        Assert.Equal(10 / 40d, probe.Read().Value, 1e-9);
        Assert.Equal("low availability", probe.Rule);
        var facts = probe.Facts!();
        Assert.Equal("shift early since 06:00", facts["period"].Text);
        Assert.Equal(0, facts["unknown_share"].Value);
    }

    [Fact]
    public async Task Look_ASawThatWentDark_HasUnknownTimeAndNoDowntime()
    {
        await using var history = new RunningHistory();
        await history.Writer.SaveStatesAsync("saw-1", [new StateSegment(Shift, Shift.AddMinutes(60), TimelineState.Executing)], CancellationToken.None);
        var watch = await LookedAsync(history, minutes: 123);
        var probe = Assert.Single(watch.Probes, probe => probe.Subject.Name == "saw-1");

        Assert.Equal(1, probe.Read().Value, 1e-9);
        Assert.Equal(0.5, probe.Facts!()["unknown_share"].Value, 1e-9);
    }

    [Fact]
    public async Task Look_OutsideOfShifts_KnowsNothing()
    {
        await using var history = new RunningHistory();
        await StandAsync(history, minutes: 9 * 60);
        var watch = await LookedAsync(history, minutes: 9 * 60);

        Assert.All(watch.Probes, probe => Assert.True(double.IsNaN(probe.Read().Value)));
    }

    [Fact]
    public async Task Look_OverASpan_GoesBackOverShifts()
    {
        await using var history = new RunningHistory();
        await StandAsync(history, minutes: 9 * 60);
        var watch = await LookedAsync(history, minutes: 9 * 60, over: "\"8 h\"");
        var probe = Assert.Single(watch.Probes, probe => probe.Subject.Name == "saw-1");

        Assert.Equal(0, probe.Read().Value);
        Assert.Equal("the last 8 h", probe.Facts!()["period"].Text);
    }

    /// <summary>Whoever opens the page because of an alarm finds the figure of the alarm there: over the shift, over days that are kept as sums and days that are cut, before and after a correction.</summary>
    [Theory]
    [InlineData(null, "from=2026-03-04T06:00:00Z")]
    [InlineData("\"30 h\"", "from=2026-03-03T04:10:00Z")]
    [InlineData("\"52 h\"", "from=2026-03-02T06:10:00Z")]
    public async Task Look_OverASpan_TellsTheFiguresOfTheApi(string? over, string from)
    {
        await using var api = await ReadingApi.StartAsync();
        var now = new DateTimeOffset(2026, 3, 4, 10, 10, 0, TimeSpan.Zero);
        api.Machine.SetUtcNow(now);
        await FillAsync(api.History, now.AddSeconds(-40));
        var options = api.Context.Options with { Alarms = AlarmSample.Alarms(("alarms.rules[5].over", over)) };
        var watch = new OeeWatch(options, api.Context.Oee, api.Machine, NullLogger.Instance);
        var probe = Assert.Single(watch.Probes, probe => probe.Subject.Name == "Saw 1");
        var path = $"oee?{from}&to=2026-03-04T10:10:00Z&saw=Saw%201";
        await api.GetAsync("oee?from=2026-03-01T00:00:00Z&to=2026-03-04T10:10:00Z&each=day");
        await AgreesAsync();

        await api.History.Writer.EnterScrapAsync("Saw 1", new ScrapEntry(now.AddHours(-1), null, 40, Who: "ana"), null, CancellationToken.None);
        await api.History.Writer.EnterStopReasonAsync("Saw 1", new StopReason(new Period(now.AddDays(-2), now), "blade change", StopClass.Setup, now, "ana"), new AuditEntry("ana", AuditEntry.Command, "stop.reason", "Saw 1"), CancellationToken.None);
        await AgreesAsync();

        async Task AgreesAsync()
        {
            await watch.LookAsync(CancellationToken.None);
            var figures = Assert.Single((await api.GetAsync(path)).GetProperty("items").EnumerateArray()).GetProperty("figures");
            var facts = probe.Facts!();
            Assert.Equal(figures.GetProperty("availability").GetDouble(), probe.Read().Value, 1e-12);
            foreach (var (fact, member) in new[] { ("oee", "oee"), ("availability", "availability"), ("effectiveness", "effectiveness"), ("quality_ratio", "qualityRatio"), ("unknown_share", "unknownShare") })
            {
                Assert.InRange(facts[fact].Value, 0.001, 0.999);
                Assert.Equal(figures.GetProperty(member).GetDouble(), facts[fact].Value, 1e-12);
            }
        }
    }

    // Cuts of 4 min, each after a pause; now and then nobody saw the saw. The last parts of each shift are scrap.
    private static async Task FillAsync(RunningHistory history, DateTimeOffset until)
    {
        var begin = Cycles.Start;
        for (var i = 0; begin.AddMinutes(i * 6) < until; i++)
        {
            var start = begin.AddMinutes(i * 6);
            var end = start.AddMinutes(4) < until ? start.AddMinutes(4) : until;
            var next = start.AddMinutes(6) < until ? start.AddMinutes(6) : until;
            if (i % 7 == 0)
                continue;
            await history.Writer.SaveStatesAsync("Saw 1", [new StateSegment(start, end, TimelineState.Executing, "", "J-1"), new StateSegment(end, next, TimelineState.NotExecuting, "", "J-1")], CancellationToken.None);
            if (end < start.AddMinutes(4))
                continue;
            await history.AppendAsync(Cycles.Make("Saw 1", i) with { StartedAt = start, CutStartedAt = start.AddSeconds(20), CutEndedAt = start.AddSeconds(200), EndedAt = end, Outcome = CutOutcome.Completed, CutTimeS = 180, StandardCutTimeS = 150, StandardCycleTimeS = 200 });
        }

        for (var day = 0; day < 3; day++)
            await history.Writer.EnterScrapAsync("Saw 1", new ScrapEntry(begin.AddDays(day).AddHours(4), null, 5, Who: "ana"), null, CancellationToken.None);
    }

    private static Task StandAsync(RunningHistory history, int minutes, int from = 0) =>
        history.Writer.SaveStatesAsync("saw-1", [new StateSegment(Shift.AddMinutes(from), Shift.AddMinutes(minutes), TimelineState.NotExecuting)], CancellationToken.None);

    private static async Task<OeeWatch> LookedAsync(RunningHistory history, int minutes, string? over = null)
    {
        GatewayOptions options = Sample.Load(AlarmSample.With(("timeZone", "\"Europe/Berlin\""), ("alarms.rules[5].over", over))).Options();
        var clock = new FakeTimeProvider(Shift.AddMinutes(minutes));
        var watch = new OeeWatch(options, new OeeService(options, history.Reader, history.Writer, clock), clock, NullLogger.Instance);
        await watch.LookAsync(CancellationToken.None);
        return watch;
    }
}
