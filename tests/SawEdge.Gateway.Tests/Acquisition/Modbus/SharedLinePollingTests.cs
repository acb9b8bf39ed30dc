using SawEdge.Core.Signals;
using SawEdge.Modbus.Tests;

namespace SawEdge.Gateway.Tests.Acquisition.Modbus;

/// <summary>Several units behind one connection that is too slow for them, or that some of them make slow: who gets which turn. The clock is in the test's hand.</summary>
public sealed class SharedLinePollingTests
{
    private static readonly TimeSpan Patient = TimeSpan.FromMinutes(5);

    [Theory]
    [InlineData(0.6)]
    [InlineData(2.5)]
    public async Task RunAsync_LineThatIsTooSlow_IsSharedInStrictTurns(double intervalsARequest)
    {
        await using var device = Device();
        var clock = PollerBench.NewClock();
        device.Before = _ =>
        {
            clock.Advance(intervalsARequest * PollerBench.Interval);
            return null;
        };
        await using (var bench = new PollerBench(device.Port, 3, Patient, clock: clock))
        {
            await bench.PassUntilAsync(() => bench.Good(1) >= 40 && bench.Good(2) >= 40 && bench.Good(3) >= 40, "each has forty frames", TimeSpan.FromMilliseconds(1));
            var turns = device.Requests.Select(request => request.Unit).ToList();
            Assert.All(Enumerable.Range(0, turns.Count - 2), i => Assert.Equal(3, turns.Skip(i).Take(3).Distinct().Count()));

            // Said of each saw, once.
            Assert.Equal(3, bench.Log.Of(2107).Count);
        }
    }

    [Fact]
    public async Task RunAsync_SlowSawAmongFastOnesThatFillTheLine_GetsItsTurns()
    {
        await using var device = Device();
        var clock = PollerBench.NewClock();
        device.Before = _ =>
        {
            clock.Advance(0.6 * PollerBench.Interval);
            return null;
        };
        await using (var bench = new PollerBench(device.Port, 3, Patient, last: TimeSpan.FromSeconds(1), clock: clock))
        {
            var start = bench.Clock.GetUtcNow();
            await bench.PassUntilAsync(() => bench.Good(1) >= 100, "a hundred frames", TimeSpan.FromMilliseconds(1));
            var seconds = (bench.Clock.GetUtcNow() - start).TotalSeconds;
            Assert.InRange(bench.Good(3), seconds - 2, seconds + 2);
            Assert.InRange(bench.Good(2), bench.Good(1) - 3, bench.Good(1) + 3);
            Assert.Equal(0, bench.Poller.Counters["saw-3"].Misses);
        }
    }

    // Unit 2 never answers, unit 3 answers nonsense; 1 and 4 answer after 40 ms, which is a slow unit on a slow line.
    [Fact]
    public async Task RunAsync_HostileUnitsOnAnRtuLine_TakeOnlyWhatTheTimeoutsAllow()
    {
        var (timeout, interval) = (TimeSpan.FromSeconds(10), TimeSpan.FromMilliseconds(500));
        var clock = PollerBench.NewClock();
        long waitsUntil = 0;
        await using var line = new ScriptedDevice(async talk =>
        {
            while (await RtuDevice.NextAsync(talk) is { } request)
            {
                clock.Advance(TimeSpan.FromMilliseconds(40));
                Volatile.Write(ref waitsUntil, request[0] is 2 or 3 ? (clock.GetUtcNow() + timeout).Ticks : 0);
                if (request[0] == 3)
                    await talk.SendAsync([0xFF, 0x00, 0x55, 0xAA, 0x03]);
                else if (request[0] != 2)
                    await talk.SendAsync(RtuDevice.CorrectAnswer(request));
            }
        });
        await using (var bench = new PollerBench(line.Port, 4, timeout, interval, isRtu: true, clock: clock))
        {
            // Time may run while nobody but a hostile unit is asked; else it goes slowly, so that a busy machine makes no good unit look silent.
            var step = () => Volatile.Read(ref waitsUntil) > bench.Clock.GetUtcNow().Ticks ? timeout / 5 : interval;
            await bench.PassUntilAsync(() => bench.Log.Of(2103).Count == 2, "the two are said", step);
            var start = bench.Clock.GetUtcNow();
            var before = (bench.Good(1), bench.Good(4));
            await bench.PassUntilAsync(() => bench.Clock.GetUtcNow() - start > TimeSpan.FromMinutes(5), "five minutes pass", step);

            // In five minutes 600 are due. The two are asked with pauses of 1, 2, 4, 8, 16, 30, 30... s and each time take 10 s from the others:
            // some three minutes; without the pauses each round would take 20 s, and there would be fifteen.
            Assert.InRange(bench.Good(1) - before.Item1, 120, 601);
            Assert.InRange(bench.Good(4) - before.Item2, 120, 601);
            Assert.InRange(bench.Poller.Counters["saw-2"].Errors, 5, 12);
            Assert.InRange(bench.Poller.Counters["saw-3"].Errors, 5, 12);
            Assert.Equal(0, bench.Poller.Counters["saw-1"].Errors);
            Assert.Equal(1, line.Connections);

            // Each is said once, with where it is and what was wrong.
            Assert.Equal(2, bench.Log.Of(2103).Count);
            Assert.Contains(bench.Log.Of(2103), said => said.Contains($"saw-2 gets no or not all signals. 127.0.0.1:{line.Port}, unit 2, holding registers 0 to 1: no answer within 10 s", StringComparison.Ordinal));
            Assert.Contains(bench.Log.Of(2103), said => said.Contains("saw-3", StringComparison.Ordinal) && said.Contains("no valid Modbus answer", StringComparison.Ordinal));
            Assert.All([2, 3], saw => Assert.Equal(SignalQuality.SourceFault, Assert.Single(bench.Of(saw)).QualityOf(Signal.HeadPosition)));
            Assert.Empty(bench.Log.Of(2101));
        }
    }

    [Fact]
    public async Task RunAsync_LineWithoutAnswersForLong_IsBackForAllWhenOneAnswers()
    {
        await using var device = Device();
        await using var bench = new PollerBench(device.Port, 3, TimeSpan.FromSeconds(10), TimeSpan.FromSeconds(1));
        await bench.PassUntilAsync(() => bench.Good(1) > 2 && bench.Good(2) > 2 && bench.Good(3) > 2, "frames come", TimeSpan.FromMilliseconds(200));
        foreach (var unit in new byte[] { 1, 2, 3 })
            device.Silent[unit] = true;
        var start = bench.Clock.GetUtcNow();
        await bench.PassUntilAsync(() => bench.Clock.GetUtcNow() - start > TimeSpan.FromMinutes(5), "five minutes without an answer", TimeSpan.FromSeconds(2));
        var before = new[] { 1, 2, 3 }.Select(bench.Good).ToList();
        device.Silent.Clear();

        // The pause of each is 30 s by now; the first that is over ends those of the others.
        await bench.PassUntilAsync(() => new[] { 1, 2, 3 }.Any(saw => bench.Good(saw) > before[saw - 1]), "one answers", TimeSpan.FromMilliseconds(200));
        var back = bench.Clock.GetUtcNow();
        await bench.PassUntilAsync(() => new[] { 1, 2, 3 }.All(saw => bench.Good(saw) > before[saw - 1]), "all answer", TimeSpan.FromMilliseconds(200));
        Assert.InRange(bench.Clock.GetUtcNow() - back, TimeSpan.Zero, TimeSpan.FromSeconds(8));
        Assert.Equal((3, 3), (bench.Log.Of(2103).Count, bench.Log.Of(2104).Count));
    }

    private static RegisterDevice Device()
    {
        var device = new RegisterDevice();
        device.Set(0, 120, 4);
        return device;
    }
}
