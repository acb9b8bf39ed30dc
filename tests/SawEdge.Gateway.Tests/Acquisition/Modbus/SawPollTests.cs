using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;
using SawEdge.Modbus;
using SawEdge.Modbus.Tests;

namespace SawEdge.Gateway.Tests.Acquisition.Modbus;

/// <summary>One saw polled over a real socket, the clock in the test's hand.</summary>
public sealed class SawPollTests
{
    private static readonly DateTimeOffset Start = new(2026, 5, 4, 6, 0, 0, TimeSpan.Zero);

    [Fact]
    public async Task PollAsync_NeighbouringSignals_ComeInOneRequestAndOneFrame()
    {
        await using var bench = new Bench(At(Signal.HeadPosition, 100) with { Conversion = ValueConversion.Linear(0.1) }, At(Signal.MotorLoad, 101) with { Conversion = ValueConversion.Linear(0.01) }, At(Signal.PartCount, 104));
        bench.Device.Set(100, 2105, 457, 0, 0, 88);
        var frame = Assert.Single(await bench.PollAsync());
        Assert.Equal(210.5, frame.Number(Signal.HeadPosition), 9);
        Assert.Equal(4.57, frame.Number(Signal.MotorLoad), 9);
        Assert.Equal(88, frame.Number(Signal.PartCount));
        Assert.Equal([(7, 3, 100, 5)], bench.Device.Requests);
        Assert.Equal(SignalQuality.NotRead, frame.QualityOf(Signal.BladeSpeed));
    }

    [Fact]
    public async Task PollAsync_AllFourTables_AreReadBackToBackIntoOneFrame()
    {
        await using var bench = new Bench(
            At(Signal.HeadPosition, 0),
            At(Signal.MotorLoad, 5) with { Table = RegisterTable.Input },
            At(Signal.CycleActive, 9) with { Table = RegisterTable.Coil, Type = RegisterType.Bool },
            At(Signal.Cutting, 11) with { Table = RegisterTable.DiscreteInput, Type = RegisterType.Bool });
        bench.Device.Set(0, 300);
        bench.Device.Values[(4, 5)] = 6;
        bench.Device.Values[(1, 9)] = 1;
        bench.Device.Values[(2, 11)] = 0;
        var frame = Assert.Single(await bench.PollAsync());
        Assert.Equal((300, 6, true, false), (frame.Number(Signal.HeadPosition), frame.Number(Signal.MotorLoad), frame.Flag(Signal.CycleActive)!.Value, frame.Flag(Signal.Cutting)!.Value));
        Assert.Equal([3, 4, 2, 1], bench.Device.Requests.Select(request => request.Function));
    }

    [Fact]
    public async Task PollAsync_TimeOfTheFrame_IsHalfWayThroughTheFirstRequest()
    {
        await using var bench = new Bench(At(Signal.HeadPosition, 0), At(Signal.Job, 500));
        bench.Device.Set(0, 1);
        bench.Device.Set(500, 2);
        bench.Device.Before = _ =>
        {
            bench.Clock.Advance(TimeSpan.FromMilliseconds(200));
            return null;
        };
        bench.Clock.Advance(TimeSpan.FromSeconds(1));
        Assert.Equal(Start + TimeSpan.FromMilliseconds(1100), Assert.Single(await bench.PollAsync()).Time);
    }

    [Fact]
    public async Task PollAsync_IllegalGapBetweenSignals_IsNoLongerReadAlongAndCostsNoSignal()
    {
        await using var bench = new Bench(At(Signal.HeadPosition, 10), At(Signal.MotorLoad, 14));
        bench.Device.Set(10, 1);
        bench.Device.Set(14, 2);
        for (var i = 0; i < 3; i++)
        {
            var frame = Assert.Single(await bench.PollAsync());
            Assert.Equal((1, 2), (frame.Number(Signal.HeadPosition), frame.Number(Signal.MotorLoad)));
        }

        Assert.Equal([(10, 5), (10, 1), (14, 1), (10, 1), (14, 1), (10, 1), (14, 1)], bench.Device.Requests.Select(request => (request.Address, request.Quantity)));
        Assert.Empty(bench.Refused);
    }

    [Fact]
    public async Task PollAsync_OneMappingThatDoesNotExist_IsLeftOutUntilItDoes()
    {
        await using var bench = new Bench(At(Signal.HeadPosition, 10), At(Signal.MotorLoad, 11), At(Signal.BladeSpeed, 12), At(Signal.PartCount, 13));
        bench.Device.Set(10, 1, 2);
        bench.Device.Set(13, 4);
        for (var i = 0; i < 5; i++)
        {
            var frame = Assert.Single(await bench.PollAsync());
            Assert.Equal((1, 2, 4), (frame.Number(Signal.HeadPosition), frame.Number(Signal.MotorLoad), frame.Number(Signal.PartCount)));
            Assert.Equal(SignalQuality.SourceFault, frame.QualityOf(Signal.BladeSpeed));
        }

        Assert.Equal(["blade_speed"], bench.Refused);
        Assert.Single(bench.Device.Requests, request => request is { Address: 12, Quantity: 1 });

        // After the pause it is asked for again: refused again without a word, and, once it is there, joined again.
        bench.Clock.Advance(SawPoll.RefusalPause);
        await bench.PollAsync();
        Assert.Equal(2, bench.Device.Requests.Count(request => request is { Address: 12, Quantity: 1 }));
        Assert.Equal(["blade_speed"], bench.Refused);
        bench.Device.Set(12, 3);
        bench.Clock.Advance(SawPoll.RefusalPause);
        Assert.Equal(3, Assert.Single(await bench.PollAsync()).Number(Signal.BladeSpeed));
        Assert.Equal(["blade_speed"], bench.Taken);
        await bench.PollAsync();
        Assert.Equal((7, 3, 10, 4), bench.Device.Requests[^1]);
    }

    [Fact]
    public async Task PollAsync_TwoBadMappings_OneComesBackAlone()
    {
        await using var bench = new Bench(At(Signal.HeadPosition, 10), At(Signal.MotorLoad, 11), At(Signal.BladeSpeed, 12));
        bench.Device.Set(10, 1);
        await bench.PollAsync();
        bench.Device.Set(11, 2);
        bench.Clock.Advance(SawPoll.RefusalPause);
        await bench.PollAsync();
        var frame = Assert.Single(await bench.PollAsync());
        Assert.Equal((1, 2), (frame.Number(Signal.HeadPosition), frame.Number(Signal.MotorLoad)));
        Assert.Equal(SignalQuality.SourceFault, frame.QualityOf(Signal.BladeSpeed));
        Assert.Equal(["motor_load", "blade_speed"], bench.Refused);
        Assert.Equal(["motor_load"], bench.Taken);
        Assert.Equal((7, 3, 10, 2), bench.Device.Requests[^1]);
    }

    [Fact]
    public async Task PollAsync_DeviceThatTakesOnlyTenRegistersAtOnce_IsReadInSmallerPieces()
    {
        RegisterMapping[] mappings = [.. Enumerable.Range(0, 10).Select(i => At((Signal)i, i * 4, RegisterType.Int64))];
        await using var bench = new Bench(mappings);
        bench.Device.Set(0, [.. Enumerable.Range(0, 40).Select(i => (ushort)(i % 4 == 3 ? i / 4 : 0))]);
        bench.Device.Before = request => request[11] > 10 ? ScriptedDevice.ExceptionAnswer(request, 3) : null;
        var frame = Assert.Single(await bench.PollAsync());
        Assert.All(mappings, mapping => Assert.True(frame.Has(mapping.Signal)));
        Assert.Equal(9, frame.Number(Signal.ScrapCount));
        Assert.InRange(bench.Poll.Requests, 4, 8);
        Assert.Empty(bench.Refused);
    }

    [Fact]
    public async Task PollAsync_OneTableBusy_TheOthersAreDelivered()
    {
        await using var bench = new Bench(At(Signal.HeadPosition, 0), At(Signal.MotorLoad, 5) with { Table = RegisterTable.Input });
        bench.Device.Values[(4, 5)] = 6;
        bench.Device.Before = request => request[7] == 3 ? ScriptedDevice.ExceptionAnswer(request, 6) : null;
        var frame = Assert.Single(await bench.PollAsync());
        Assert.Equal(SignalQuality.SourceFault, frame.QualityOf(Signal.HeadPosition));
        Assert.Equal(6, frame.Number(Signal.MotorLoad));
        Assert.Equal(ModbusExceptionCode.ServerDeviceBusy, Assert.IsType<ModbusDeviceException>(bench.Trouble).Code);
        Assert.Equal(1, bench.Failures);
    }

    [Fact]
    public async Task PollAsync_NothingDelivered_IsOneFrameOfSourceFaultsAndThenAGap()
    {
        await using var bench = new Bench(At(Signal.HeadPosition, 0), At(Signal.Job, 1));
        bench.Device.Set(0, 1, 2);
        Assert.True(Assert.Single(await bench.PollAsync()).Has(Signal.HeadPosition));

        // A protocol gateway says that the unit behind it is silent.
        bench.Device.Before = request => ScriptedDevice.ExceptionAnswer(request, 0x0B);
        var fault = Assert.Single(await bench.PollAsync());
        Assert.Equal((SignalQuality.SourceFault, SignalQuality.SourceFault), (fault.QualityOf(Signal.HeadPosition), fault.QualityOf(Signal.Job)));
        Assert.Equal(SignalQuality.NotRead, fault.QualityOf(Signal.MotorLoad));
        Assert.Empty(await bench.PollAsync());
        Assert.Empty(await bench.PollAsync());
        Assert.IsType<ModbusDeviceException>(bench.Trouble);

        bench.Device.Before = _ => null;
        Assert.True(Assert.Single(await bench.PollAsync()).Has(Signal.HeadPosition));
        Assert.Null(bench.Trouble);
    }

    [Fact]
    public async Task PollAsync_NotANumberAndOutOfRange_AreMarkedAndTheRestIsGood()
    {
        await using var bench = new Bench(
            At(Signal.HeadPosition, 0, RegisterType.Float32),
            At(Signal.MotorLoad, 2) with { Maximum = 15 },
            At(Signal.PartCount, 3));
        bench.Device.Set(0, 0x7FC0, 0, 16, 5);
        var frame = Assert.Single(await bench.PollAsync());
        Assert.Equal(SignalQuality.Invalid, frame.QualityOf(Signal.HeadPosition));
        Assert.Equal(SignalQuality.OutOfRange, frame.QualityOf(Signal.MotorLoad));
        Assert.Equal(5, frame.Number(Signal.PartCount));
        Assert.Null(bench.Trouble);
    }

    private static RegisterMapping At(Signal signal, int address, RegisterType type = RegisterType.UInt16) =>
        new() { Signal = signal, Table = RegisterTable.Holding, Address = (ushort)address, Type = type };

    private sealed class Bench : IAsyncDisposable, ISawPollListener
    {
        private readonly SawInbox _inbox = new("saw-1");
        private readonly ModbusTcpReader _reader;

        public Bench(params RegisterMapping[] mappings)
        {
            var source = new ModbusSourceOptions { Device = "plc", Unit = 7, Signals = mappings };
            Poll = new SawPoll(source, 8, _inbox, new FrameClock(Clock), Clock, this);
            _reader = new ModbusTcpReader(new ModbusTcpOptions { Host = "127.0.0.1", Port = Device.Port, ResponseTimeout = TimeSpan.FromMinutes(5) }, Clock);
        }

        public FakeTimeProvider Clock { get; } = new(Start);

        public RegisterDevice Device { get; } = new();

        public SawPoll Poll { get; }

        public ModbusException? Trouble { get; private set; }

        public int Failures { get; private set; }

        public List<string> Refused { get; } = [];

        public List<string> Taken { get; } = [];

        /// <summary>Polls once.</summary>
        /// <returns>The frames that this put into the inbox.</returns>
        public async Task<List<SignalFrame>> PollAsync()
        {
            Trouble = await Poll.PollAsync(_reader, default).AsTask().WaitAsync(TimeSpan.FromMinutes(3));
            var frames = new List<SignalFrame>();
            while (_inbox.Frames.TryRead(out var frame))
                frames.Add(frame);
            return frames;
        }

        public void RequestFailed(ModbusException reason) => Failures++;

        public void SignalsRefused(IReadOnlyList<SignalDecoder> signals, ModbusDeviceException refusal) => Refused.AddRange(Names(signals));

        public void SignalsTaken(IReadOnlyList<SignalDecoder> signals) => Taken.AddRange(Names(signals));

        public async ValueTask DisposeAsync()
        {
            await _reader.DisposeAsync();
            await Device.DisposeAsync();
        }

        private static IEnumerable<string> Names(IReadOnlyList<SignalDecoder> signals) => signals.Select(signal => SignalInfo.Of(signal.Mapping.Signal).Name);
    }
}
