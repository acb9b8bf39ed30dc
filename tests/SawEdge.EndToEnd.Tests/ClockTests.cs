using System.Globalization;
using System.Text.RegularExpressions;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>
/// The machine's clock is set under the running gateway: an hour forth and back in cuts, a leap second between two, into the year 2099 and back; it
/// is two hours behind at a start, and in 1970 at another until a time server answers. The saw goes on all the while, and its controller counts.
/// </summary>
public sealed class ClockTests
{
    private const int ClockSet = 3550;
    private const int ClockDoubted = 3552;
    private const int ClockNotFollowed = 3553;
    private const int ClockCameBack = 3554;

    [PeerFact(FakedClock.Program, InfluxServer.Program, HistoryFile.Program)]
    public async Task ClockIsSetInCutsBetweenThemAndWhileDown_EveryCycleIsThereOnce_WithItsTrueDuration()
    {
        await using var influx = await InfluxServer.StartAsync("plant");
        var clock = new SawClock(held: true);
        var saw = new LiveSaw(new VirtualSaw(SmallSaw.Named("saw-1", 91)), clock);
        await using var device = ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit> { [1] = new(saw, RegisterLayout.Plain) });
        using var folder = new GatewayFolder().WithDevice("plc", device.Port).WithSaw("saw-1", "plc", 1).WithInflux1(influx, "plant");
        folder.Write();
        var faked = new FakedClock(folder.File("clock"));
        faked.Set(TimeSpan.Zero);
        var began = TimeProvider.System.GetUtcNow();

        await using (var first = Start())
        {
            await InCutAsync(first, 1);
            faked.Set(TimeSpan.FromHours(1));
            await StoredAsync(first, 1);
            await InCutAsync(first, 2);
            faked.Set(TimeSpan.Zero);
            await StoredAsync(first, 2);
            faked.Set(TimeSpan.FromSeconds(-1.5));
            await InCutAsync(first, 3);
            faked.Set(TimeSpan.FromDays(73 * 365));
            await first.LogsAsync(ClockNotFollowed);
            faked.Set(TimeSpan.FromSeconds(-1.5));
            await first.LogsAsync(ClockCameBack);
            await StoredAsync(first, 3);
            await EndAsync(first);

            // Said once, however often it was set within ten minutes.
            Assert.Equal(1, first.Count(ClockSet));
        }

        faked.Set(TimeSpan.FromHours(-2));
        await using (var second = Start())
        {
            await second.LogsAsync(ClockDoubted, "the machine's clock is not to be trusted: it stands at ");
            await InCutAsync(second, 4);
            await StoredAsync(second, 4);
            await second.UntilAsync(() => folder.History.Alarms().Any(alarm => alarm.Text("rule") == "clock_trouble" && alarm.Text("text")!.Contains("look at the machine's clock", StringComparison.Ordinal)), "an alarm says so");
            await EndAsync(second);
        }

        faked.Set(DateTimeOffset.UnixEpoch.AddMinutes(3) - TimeProvider.System.GetUtcNow());
        await using var third = Start();
        await third.LogsAsync(ClockDoubted, "the machine's clock is not to be trusted: it stands at 1970-01-01");
        await InCutAsync(third, 5);
        faked.Set(TimeSpan.Zero);
        await StoredAsync(third, 5);
        await StoredAsync(third, 6);
        clock.Hold();
        await Delivered.AllAsync(third, influx, "plant", 6);
        Assert.Equal(0, await third.EndAsync());

        // Neither split nor merged, and none took another's place.
        var cycles = folder.History.Cycles().OrderBy(cycle => cycle.Whole("part_count")).ToList();
        Assert.Equal(Enumerable.Range(1201, 6).Select(count => (long?)count), cycles.Select(cycle => cycle.Whole("part_count")));
        Assert.All(cycles, cycle => Assert.Equal("completed", cycle.Outcome));
        Assert.All(cycles, cycle => Assert.InRange(cycle.Number("cut_time_s"), SmallSaw.StandardCutS - 0.5, SmallSaw.StandardCutS + 0.7));
        Assert.All(cycles, cycle => Assert.InRange(cycle.Number("coverage"), 0.8, 1.1));

        // Each follows the clock with which it began, and says so where that was set.
        double[] hours = [0, 1, 0, -2, double.NaN, 0];
        for (var i = 0; i < cycles.Count; i++)
        {
            var started = cycles[i].Time("started_at")!.Value;
            if (double.IsNaN(hours[i]))
                Assert.Equal(1970, started.Year);
            else
                Assert.InRange((started - began).TotalHours, hours[i] - 0.01, hours[i] + 0.1);
        }

        SaysAnHour(0, "forward");
        SaysAnHour(1, "back");
        Says(3, "the gateway's clock is not to be trusted: it stands at ");
        Says(4, "before this program was written");
        await Delivered.IsTheHistoryAsync(influx, "plant", folder.History);
        Assert.Equal("ok", await folder.History.IntegrityAsync());

        GatewayProcess Start() => GatewayProcess.Run(folder.Configuration, faked.Environment);

        // The saw is held where nobody looks, so that all it does is seen.
        async Task InCutAsync(GatewayProcess gateway, int number)
        {
            var asked = device.Requests;
            await gateway.UntilAsync(() => device.Requests > asked + 10, "the gateway polls");
            clock.Release();
            await gateway.UntilAsync(() => saw.TryRead(out var frame) && frame.Number(Core.Signals.Signal.PartCount) == 1199 + number && frame.Number(Core.Signals.Signal.HeadPosition) < SmallSaw.HeightMm - 2, $"cut {number} goes on");
        }

        async Task StoredAsync(GatewayProcess gateway, int count) => await gateway.UntilAsync(() => folder.History.Cycles().Count >= count, $"{count} cycles are in the history");

        async Task EndAsync(GatewayProcess gateway)
        {
            clock.Hold();
            Assert.Equal(0, await gateway.EndAsync());
        }

        void Says(int cycle, string words) => Assert.Contains(words, cycles[cycle].Text("notes") ?? "", StringComparison.Ordinal);

        // A busy machine reads its two clocks a moment apart.
        void SaysAnHour(int cycle, string way)
        {
            var said = Regex.Match(cycles[cycle].Text("notes") ?? "", $"the gateway's clock was set {way} by ([0-9.]+) s");
            Assert.True(said.Success, $"nothing says that the clock was set {way}: {cycles[cycle].Text("notes")}");
            Assert.InRange(double.Parse(said.Groups[1].ValueSpan, CultureInfo.InvariantCulture), 3590, 3610);
        }
    }
}
