using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Accounts;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Hosting;
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
