using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;
using SawEdge.Modbus;
using SawEdge.Modbus.Tests;

namespace SawEdge.Gateway.Tests.Acquisition.Modbus;

/// <summary>Signals that are read less often than the others: when, and what a frame holds in between. Over a real socket, the clock in the test's hand.</summary>
public sealed class SlowSignalTests
{
    private static readonly TimeSpan Interval = TimeSpan.FromMilliseconds(100);

    // Far apart, so that each is a request of its own.
    private const int Job = 1000;
    private const int Count = 2000;
    private const int Speed = 3000;

    [Fact]
    public async Task PollAsync_SlowSignals_AreReadAtTheirRateAndHeldInBetween()
    {
        await using var bench = new Bench();
        bench.Device.Set(Count, 10);
        var frames = new List<SignalFrame>();
        for (var poll = 0; poll <= 100; poll++)
        {
            if (poll == 3)
                bench.Device.Set(Count, 11);
            frames.AddRange(await bench.PollAsync());
            bench.Clock.Advance(Interval);
        }

        // Ten seconds at 10 Hz: the head each time, the three slow ones at once in the beginning and then each second.
        Assert.Equal(101, frames.Count);
        Assert.All(frames, frame => Assert.All([Signal.HeadPosition, Signal.Job, Signal.PartCount, Signal.BladeSpeed], signal => Assert.Equal(SignalQuality.Good, frame.QualityOf(signal))));
        Assert.Equal(101, bench.RequestsOf(0));
        Assert.All([Job, Count, Speed], address => Assert.InRange(bench.RequestsOf(address), 10, 12));

        // What changed is not there before it was read again, and then at once.
        var first = frames.FindIndex(frame => frame.Number(Signal.PartCount) == 11);
        Assert.InRange(first, 3, 12);
        Assert.All(frames.Skip(first), frame => Assert.Equal(11, frame.Number(Signal.PartCount)));
    }

    [Fact]
    public async Task PollAsync_SlowSignals_NeverFallIntoOnePollAfterTheFirst()
    {
        await using var bench = new Bench();
        for (var poll = 0; poll < 100; poll++)
        {
            var before = bench.Device.Requests.Count;
            await bench.PollAsync();
            bench.Clock.Advance(Interval);
            Assert.InRange(bench.Device.Requests.Count - before, poll == 0 ? 4 : 1, poll == 0 ? 4 : 2);
        }
    }

    [Fact]
    public async Task PollAsync_SawsOfOneLine_ReadTheirSlowSignalsAtDifferentTimes()
    {
        await using var first = new Bench(phase: 0);
        await using var second = new Bench(phase: 0.5);
        var (a, b) = (await first.SlowPollsAsync(), await second.SlowPollsAsync());
        Assert.Equal((3, 3), (a.Count, b.Count));
        Assert.Empty(a.Intersect(b));
    }

    [Fact]
    public async Task PollAsync_PollsThatComeLate_KeepTheRate()
    {
        await using var bench = new Bench();

        // 130 ms instead of 100 ms: 100 polls in 13 s.
        for (var poll = 0; poll < 100; poll++)
        {
            await bench.PollAsync();
            bench.Clock.Advance(1.3 * Interval);
        }

        Assert.All([Job, Count, Speed], address => Assert.InRange(bench.RequestsOf(address), 13, 14));
    }

    [Fact]
    public async Task PollAsync_AfterTheUnitWasSilent_NothingOldIsHeld()
    {
        await using var bench = new Bench();
        await bench.PollAsync();
        bench.Clock.Advance(Interval);

        // A protocol gateway says that the unit does not answer; meanwhile somebody loads another job.
        bench.Device.Before = request => ScriptedDevice.ExceptionAnswer(request, 0x0B);
        var fault = Assert.Single(await bench.PollAsync());
        Assert.Equal(SignalQuality.SourceFault, fault.QualityOf(Signal.Job));
        bench.Device.Set(Job, 8);
        bench.Device.Before = _ => null;
        bench.Clock.Advance(Interval);
        var frame = Assert.Single(await bench.PollAsync());
        Assert.Equal(("8", SignalQuality.Good), (frame.Text(Signal.Job), frame.QualityOf(Signal.BladeSpeed)));
    }

    [Fact]
    public async Task MarkOutage_ThenBack_NothingOldIsHeld()
    {
        await using var bench = new Bench();
        await bench.PollAsync();
        bench.Poll.MarkOutage();
        bench.Device.Set(Job, 8);
        bench.Clock.Advance(Interval);
        Assert.Equal("8", (await bench.PollAsync())[^1].Text(Signal.Job));
    }

    [Fact]
    public async Task PollAsync_SlowReadThatFails_IsMarkedAndTriedAgainAtOnce()
    {
        await using var bench = new Bench();
        await bench.PollAsync();
        bench.Device.Before = request => request[8] == Count >> 8 ? ScriptedDevice.ExceptionAnswer(request, 6) : null;
        SignalFrame frame;
        var polls = 0;
        do
        {
            bench.Clock.Advance(Interval);
            frame = Assert.Single(await bench.PollAsync());
        }
        while (frame.Has(Signal.PartCount) && polls++ < 20);
        Assert.Equal((SignalQuality.SourceFault, SignalQuality.Good, SignalQuality.Good), (frame.QualityOf(Signal.PartCount), frame.QualityOf(Signal.HeadPosition), frame.QualityOf(Signal.Job)));
        Assert.Equal(ModbusExceptionCode.ServerDeviceBusy, Assert.IsType<ModbusDeviceException>(bench.Trouble).Code);

        bench.Device.Before = _ => null;
        bench.Clock.Advance(Interval);
        Assert.True(Assert.Single(await bench.PollAsync()).Has(Signal.PartCount));
    }

    [Fact]
    public async Task PollAsync_SlowMappingThatIsRefused_IsLeftOutAndNeverHeld()
    {
        await using var bench = new Bench();
        await bench.PollAsync();
        bench.Device.Values.TryRemove((3, Speed), out _);
        for (var poll = 0; poll < 12; poll++)
        {
            bench.Clock.Advance(Interval);
            await bench.PollAsync();
        }

        Assert.Equal(["blade_speed"], bench.Refused);
        bench.Clock.Advance(Interval);
        var frame = Assert.Single(await bench.PollAsync());
        Assert.Equal((SignalQuality.SourceFault, SignalQuality.Good), (frame.QualityOf(Signal.BladeSpeed), frame.QualityOf(Signal.Job)));
    }

    private sealed class Bench : IAsyncDisposable, ISawPollListener
    {
        private readonly SawInbox _inbox = new("saw-1");
        private readonly ModbusTcpReader _reader;

        public Bench(double phase = 0)
        {
            Device.Set(0, 100);
            Device.Set(Job, 7);
            Device.Set(Count, 10);
            Device.Set(Speed, 55);
            var slow = TimeSpan.FromSeconds(1);
            var source = new ModbusSourceOptions
            {
                Device = "plc",
                Unit = 7,
                Signals =
                [
                    At(Signal.Job, Job) with { Every = slow },
                    At(Signal.PartCount, Count) with { Every = slow },
                    At(Signal.BladeSpeed, Speed) with { Every = slow },
                    At(Signal.HeadPosition, 0),
                ],
            };
            Poll = new SawPoll(source, 8, _inbox, new FrameClock(Clock), Clock, this, null, phase);
            _reader = new ModbusTcpReader(new ModbusTcpOptions { Host = "127.0.0.1", Port = Device.Port, ResponseTimeout = TimeSpan.FromMinutes(5) }, Clock);
        }

        public FakeTimeProvider Clock { get; } = new(new DateTimeOffset(2026, 5, 4, 6, 0, 0, TimeSpan.Zero));

        public RegisterDevice Device { get; } = new();

        public SawPoll Poll { get; }

        public ModbusException? Trouble { get; private set; }

        public List<string> Refused { get; } = [];

        public int RequestsOf(int address) => Device.Requests.Count(request => request.Address == address);

        public async Task<List<SignalFrame>> PollAsync()
        {
            Trouble = await Poll.PollAsync(_reader, default).AsTask().WaitAsync(TimeSpan.FromMinutes(3));
            var frames = new List<SignalFrame>();
            while (_inbox.Frames.TryRead(out var frame))
                frames.Add(frame);
            return frames;
        }

        /// <summary>The polls of the first second after the start that read a slow signal.</summary>
        public async Task<List<int>> SlowPollsAsync()
        {
            var polls = new List<int>();
            await PollAsync();
            for (var poll = 1; poll <= 10; poll++)
            {
                Clock.Advance(Interval);
                var before = Device.Requests.Count;
                await PollAsync();
                if (Device.Requests.Count - before > 1)
                    polls.Add(poll);
            }

            return polls;
        }

        public void RequestFailed(ModbusException reason)
        {
        }

        public void SignalsRefused(IReadOnlyList<SignalDecoder> signals, ModbusDeviceException refusal) => Refused.AddRange(signals.Select(signal => SignalInfo.Of(signal.Mapping.Signal).Name));

        public void SignalsTaken(IReadOnlyList<SignalDecoder> signals)
        {
        }

        public async ValueTask DisposeAsync()
        {
            await _reader.DisposeAsync();
            await Device.DisposeAsync();
        }

        private static RegisterMapping At(Signal signal, int address) =>
            new() { Signal = signal, Table = RegisterTable.Holding, Address = (ushort)address, Type = RegisterType.UInt16 };
    }
}
