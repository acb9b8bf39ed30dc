using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;
using SawEdge.Modbus.Tests;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition.Modbus;

/// <summary>The poll loop of a device over real sockets, its clock in the test's hand.</summary>
public sealed class ModbusDevicePollerTests
{
    private static readonly TimeSpan Patient = TimeSpan.FromMinutes(5);

    [Fact]
    public async Task RunAsync_TwoSaws_ArePolledInTurnOverOneConnection()
    {
        await using var device = Device();
        await using var bench = new PollerBench(device.Port, 2, Patient);
        await bench.PassUntilAsync(() => bench.Good(1) >= 20 && bench.Good(2) >= 20, "both saws have twenty frames");
        Assert.Equal(1, device.Connections);
        Assert.Equal([1, 2, 1, 2, 1, 2, 1, 2], device.Requests.Take(8).Select(request => request.Unit));
        Assert.All(device.Requests, request => Assert.InRange(request.Function, 1, 4));
        Assert.DoesNotContain(bench.Log.Messages, message => message.Id != 2109);
    }

    // When everything was answered already, nothing in the poll notices.
    [Fact]
    public async Task RunAsync_StoppedInTheVeryMomentInWhichAPollIsDone_Ends()
    {
        await using var device = Device();
        using var stop = new CancellationTokenSource();
        var inbox = new SawInbox("saw-1");
        var (time, options) = (TimeProvider.System, new ModbusTcpDeviceOptions { Name = "hall-2", Host = "127.0.0.1", Port = device.Port });
        var poller = new ModbusDevicePoller(options, [(PollerBench.Saw(1), inbox)], new FrameClock(time), time, new MessageLog(), new StopsAfter(stop));
        await poller.RunAsync(stop.Token).WaitAsync(TimeSpan.FromMinutes(3));
        Assert.True(inbox.Frames.TryRead(out var frame) && frame.Has(Signal.HeadPosition));
    }

    [Fact]
    public async Task RunAsync_PollsThatTakeAThirdOfTheInterval_KeepTheGrid()
    {
        await using var device = Device();
        var clock = PollerBench.NewClock();
        device.Before = _ =>
        {
            clock.Advance(PollerBench.Interval / 3);
            return null;
        };
        await using (var bench = new PollerBench(device.Port, 1, Patient, clock: clock))
        {
            var start = bench.Clock.GetUtcNow();
            await bench.PassUntilAsync(() => bench.Good(1) >= 30, "thirty frames", PollerBench.Interval / 5);
            var offsets = bench.Of(1).Take(30).Select((frame, i) => frame.Time - start - (i * PollerBench.Interval)).ToList();

            // Half of the answer's third and a few steps of the test's clock, for the thirtieth as for the first; a loop that
            // waits an interval after each poll would be ten intervals late by then.
            Assert.All(offsets, offset => Assert.InRange(offset, PollerBench.Interval / 7, 2 * PollerBench.Interval));
            Assert.Equal(0, bench.Poller.Counters["saw-1"].Misses);
        }
    }

    [Fact]
    public async Task RunAsync_SlowDevice_LeavesPollsOutAndNeverPilesUp()
    {
        await using var device = Device();
        var clock = PollerBench.NewClock();
        device.Before = _ =>
        {
            clock.Advance(2.5 * PollerBench.Interval);
            return null;
        };
        await using (var bench = new PollerBench(device.Port, 1, Patient, clock: clock))
        {
            await bench.PassUntilAsync(() => bench.Good(1) >= 40, "forty frames", TimeSpan.FromMilliseconds(1));
            var counters = bench.Poller.Counters["saw-1"];
            var (polls, misses) = (counters.Polls, counters.Misses);
            Assert.InRange(misses, polls, 2 * polls);
            Assert.Single(bench.Log.Of(2107));
            Assert.Contains("saw-1 cannot be polled every 100 ms", bench.Log.Of(2107)[0], StringComparison.Ordinal);
            Assert.Equal(1, device.Connections);

            device.Before = _ => null;
            await bench.PassUntilAsync(() => bench.Log.Of(2108).Count == 1, "it says that the interval is held again");
        }
    }

    [Fact]
    public async Task RunAsync_DeviceThatCannotBeReached_IsSaidOnceAndRecoversWithoutARestart()
    {
        var port = Peer.FreePort();
        await using var bench = new PollerBench(port, 2, Patient);
        await bench.PassUntilAsync(() => bench.Of(1).Count > 0 && bench.Of(2).Count > 0, "the outage is marked");
        var start = bench.Clock.GetUtcNow();
        await bench.PassUntilAsync(() => bench.Clock.GetUtcNow() - start > TimeSpan.FromMinutes(10), "ten minutes pass", TimeSpan.FromSeconds(10));
        for (var saw = 1; saw <= 2; saw++)
        {
            var fault = Assert.Single(bench.Of(saw));
            Assert.Equal((SignalQuality.SourceFault, SignalQuality.SourceFault), (fault.QualityOf(Signal.HeadPosition), fault.QualityOf(Signal.MotorLoad)));
        }

        var said = Assert.Single(bench.Log.Of(2101));
        Assert.Contains($"hall-2 cannot be reached: no signals from saw-1, saw-2. 127.0.0.1:{port}: the connection was refused", said, StringComparison.Ordinal);
        Assert.Contains("Check", said, StringComparison.Ordinal);
        Assert.True(bench.Poller.IsAway);

        await using var device = Device(port);
        await bench.PassUntilAsync(() => bench.Good(1) > 3 && bench.Good(2) > 3, "frames come", TimeSpan.FromSeconds(1));
        Assert.Single(bench.Log.Of(2102));
        Assert.False(bench.Poller.IsAway);
        Assert.Equal([2109, 2101, 2102], bench.Log.Messages.Select(message => message.Id));
    }

    [Fact]
    public async Task RunAsync_DeviceThatGoesAwayAndComesBack_LeavesAGapAndCountsIt()
    {
        var port = Peer.FreePort();
        var device = Device(port);
        await using var bench = new PollerBench(port, 2, Patient);
        await using (device)
            await bench.PassUntilAsync(() => bench.Good(1) > 5 && bench.Good(2) > 5, "frames come");
        await bench.PassUntilAsync(() => bench.Log.Of(2101).Count > 0, "the outage is said", TimeSpan.FromSeconds(1));
        var leftAt = bench.Clock.GetUtcNow();
        await bench.PassUntilAsync(() => bench.Clock.GetUtcNow() - leftAt > TimeSpan.FromMinutes(5), "five minutes pass", TimeSpan.FromSeconds(10));
        var before = bench.Good(1);
        Assert.Single(bench.Of(1), frame => frame.QualityOf(Signal.HeadPosition) == SignalQuality.SourceFault);

        await using var again = Device(port);
        await bench.PassUntilAsync(() => bench.Good(1) > before + 5, "frames come again", TimeSpan.FromSeconds(1));
        Assert.Single(bench.Log.Of(2101));
        Assert.Single(bench.Log.Of(2102));
        Assert.Empty(bench.Log.Of(2103));
        Assert.InRange(bench.Poller.Counters["saw-1"].Misses, 2900, long.MaxValue);
        var times = bench.Of(1).Select(frame => frame.Time).ToList();
        Assert.Equal(times.Order(), times);
    }

    [Fact]
    public async Task RunAsync_OneSilentUnit_TakesNothingFromTheOthers()
    {
        await using var device = Device();
        device.Silent[2] = true;
        await using var bench = new PollerBench(device.Port, 3, TimeSpan.FromSeconds(2), TimeSpan.FromSeconds(1));
        var step = TimeSpan.FromMilliseconds(500);
        await bench.PassUntilAsync(() => bench.Log.Of(2103).Count > 0, "the silent unit is said", step);
        Assert.Contains("saw-2", bench.Log.Of(2103)[0], StringComparison.Ordinal);
        Assert.Contains("unit 2, holding registers 0 to 1: no answer within 2 s", bench.Log.Of(2103)[0], StringComparison.Ordinal);
        var start = bench.Clock.GetUtcNow();
        var before = bench.Good(1);
        await bench.PassUntilAsync(() => bench.Clock.GetUtcNow() - start > TimeSpan.FromSeconds(60), "a minute passes", step);

        // In a minute 60 are due. The silent unit is asked with pauses of 1, 2, 4, 8, 16, 30 s, and each time takes 2 s from the
        // others; without the pauses it would be asked thirty times.
        Assert.InRange(bench.Good(1) - before, 42, 61);
        Assert.InRange(bench.Poller.Counters["saw-2"].Errors, 4, 8);
        Assert.Equal(SignalQuality.SourceFault, Assert.Single(bench.Of(2)).QualityOf(Signal.HeadPosition));
        Assert.Single(bench.Log.Of(2103));

        device.Silent.Clear();
        await bench.PassUntilAsync(() => bench.Good(2) > 3, "the silent unit is back", step);
        Assert.Single(bench.Log.Of(2104));
        Assert.Empty(bench.Log.Of(2101));
    }

    [Fact]
    public async Task RunAsync_DeviceThatTalksNonsense_IsSaidOnceAndRecovers()
    {
        await using var device = Device();
        device.Before = _ => "HTTP/1.1 400 Bad Request\r\n\r\n"u8.ToArray();
        await using var bench = new PollerBench(device.Port, 1, Patient);
        await bench.PassUntilAsync(() => bench.Poller.Counters["saw-1"].Errors >= 4, "four polls failed", TimeSpan.FromSeconds(1));
        Assert.Contains("no valid Modbus answer", Assert.Single(bench.Log.Of(2103)), StringComparison.Ordinal);
        Assert.Single(bench.Of(1));
        device.Before = _ => null;
        await bench.PassUntilAsync(() => bench.Good(1) > 3, "frames come", TimeSpan.FromSeconds(1));
        Assert.Single(bench.Log.Of(2104));
        Assert.Empty(bench.Log.Of(2101));
    }

    [Fact]
    public async Task RunAsync_AMappingThatDoesNotExist_IsSaidOnceWithItsName()
    {
        await using var device = Device();
        device.Values.TryRemove((3, 1), out _);
        await using var bench = new PollerBench(device.Port, 1, Patient);
        await bench.PassUntilAsync(() => bench.Good(1) > 20, "frames come");
        var said = Assert.Single(bench.Log.Of(2105));
        Assert.Contains("saw-1: motor_load cannot be read", said, StringComparison.Ordinal);
        Assert.Contains("holding registers 1: the device answers exception 02", said, StringComparison.Ordinal);
        Assert.All(bench.Of(1), frame => Assert.Equal(SignalQuality.SourceFault, frame.QualityOf(Signal.MotorLoad)));
    }

    [Fact]
    public async Task RunAsync_Stopped_EndsQuietlyAndSaysThatNoFrameFollows()
    {
        await using var device = Device();
        var inbox = new SawInbox("saw-1");
        using var stop = new CancellationTokenSource();
        var poller = new ModbusDevicePoller(Options(device.Port), [(PollerBench.Saw(1), inbox)], new FrameClock(TimeProvider.System), TimeProvider.System, new MessageLog());
        var running = poller.RunAsync(stop.Token);
        await Until.TrueAsync(() => inbox.Frames.Count > 2, "frames come");
        await stop.CancelAsync();
        await running.WaitAsync(TimeSpan.FromMinutes(3));
        while (inbox.Frames.TryRead(out _))
        {
        }

        Assert.True(inbox.Frames.Completion.IsCompletedSuccessfully);
    }

    [Fact]
    public void Constructor_SawOfAnotherDevice_IsRefused()
    {
        var clock = new FakeTimeProvider();
        var refused = Assert.Throws<ArgumentException>(() =>
            new ModbusDevicePoller(Options(502), [(PollerBench.Saw(4, "hall-9"), new SawInbox("saw-4"))], new FrameClock(clock), clock, new MessageLog()));
        Assert.Contains("saw-4 is not read from the Modbus device hall-2", refused.Message, StringComparison.Ordinal);
    }

    private static RegisterDevice Device(int port = 0)
    {
        var device = new RegisterDevice(port);
        device.Set(0, 120, 4);
        return device;
    }

    private static ModbusTcpDeviceOptions Options(int port) => new() { Name = "hall-2", Host = "127.0.0.1", Port = port };

    /// <summary>Stops the source when a poll is over.</summary>
    private sealed class StopsAfter(CancellationTokenSource stop) : IRawValueObserver
    {
        public void RegistersRead(Signal signal, ReadOnlySpan<ushort> words)
        {
        }

        public void BitRead(Signal signal, bool bit)
        {
        }

        public void TextRead(Signal signal, ReadOnlySpan<byte> raw)
        {
        }

        public void RequestAnswered(TimeSpan roundTrip)
        {
        }

        public void PollEnded(int requests) => stop.Cancel();
    }
}
