using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;
using SawEdge.Modbus;
using SawEdge.Modbus.Tests;
using SawEdge.Modbus.Tests.Peers;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition.Modbus;

/// <summary>Links that end, with and without a word: servers killed and restarted, stopped and continued, and connections whose bytes vanish on the way.</summary>
public sealed class DeadLinkTests
{
    // What lies between, a router or a serial server, has forgotten the connection: nothing comes back, and no reset either. A new one works.
    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task RunAsync_ConnectionThatSwallowsEverything_IsMadeAnewAfterThreeRequests(bool isRtu)
    {
        await using var device = new ScriptedDevice(talk => AnswerAsync(talk, isRtu, 10), talk => AnswerAsync(talk, isRtu, int.MaxValue));
        await using var bench = new PollerBench(device.Port, 1, TimeSpan.FromSeconds(1), isRtu: isRtu);
        await bench.PassUntilAsync(() => bench.Good(1) >= 10, "frames come");
        await bench.PassUntilAsync(() => bench.Good(1) >= 20, "frames come again");
        Assert.Equal(2, device.Connections);
        Assert.Equal(ModbusTcpReader.MaximumUnanswered, bench.Poller.Counters["saw-1"].Errors);
        Assert.Single(bench.Of(1), frame => frame.QualityOf(Signal.HeadPosition) == SignalQuality.SourceFault);
        Assert.Contains("no answer within 1 s", Assert.Single(bench.Log.Of(2103)), StringComparison.Ordinal);
        Assert.Single(bench.Log.Of(2104));
        Assert.Empty(bench.Log.Of(2101));
    }

    [PeerFact(ModbusPeers.Compiler, ModbusPeers.Libmodbus)]
    public async Task Libmodbus_StoppedAndContinued_IsSaidOnceAndPolledAgain()
    {
        using var folder = new TempFolder();
        var port = Peer.FreePort();
        await using var server = await ModbusPeers.StartLibmodbusAsync(port, folder);
        await using var bench = new RealBench(port);
        await Until.TrueAsync(() => bench.Take() > 5, "frames come");
        await server.SignalAsync("STOP");
        await Until.TrueAsync(() => bench.Log.Of(2103).Count > 0, "the silence is said");
        await Until.TrueAsync(() => bench.Errors >= 4, "it goes on asking");
        bench.Take();
        Assert.Equal(SignalQuality.SourceFault, bench.Frames[^1].QualityOf(Signal.HeadPosition));
        var before = bench.Frames.Count;

        await server.SignalAsync("CONT");
        await Until.TrueAsync(() => bench.Take() > before + 5, () => $"frames come again; it was said: {string.Join(" | ", bench.Log.Messages)}");
        bench.IsBackWithOneGap();

        // Where its queue of connections was full meanwhile, it could not be reached either.
        Assert.Single(bench.Log.Of(2103));
        Assert.Single(bench.Log.Of(2104));
        Assert.InRange(bench.Log.Of(2101).Count, 0, 1);
        Assert.Equal(bench.Log.Of(2101).Count, bench.Log.Of(2102).Count);
    }

    [PeerFact(ModbusPeers.Compiler, ModbusPeers.Libmodbus)]
    public async Task Libmodbus_KilledWhilePolled_IsPolledAgainAfterItsRestart()
    {
        using var folder = new TempFolder();
        var port = Peer.FreePort();
        await using var first = await ModbusPeers.StartLibmodbusAsync(port, folder);
        await using var bench = new RealBench(port);
        await Until.TrueAsync(() => bench.Take() > 5, "frames come");
        await first.KillAsync();
        await Until.TrueAsync(() => bench.Log.Of(2101).Count > 0, "the outage is said");
        bench.Take();
        Assert.Equal(SignalQuality.SourceFault, bench.Frames[^1].QualityOf(Signal.HeadPosition));
        var before = bench.Frames.Count;

        await using var second = await ModbusPeers.StartLibmodbusAsync(port, folder);
        await Until.TrueAsync(() => bench.Take() > before + 5, "frames come again");
        bench.IsBackWithOneGap();
        Assert.Single(bench.Log.Of(2101));
        Assert.Single(bench.Log.Of(2102));
    }

    private static async Task AnswerAsync(ScriptedDevice.Talk talk, bool isRtu, int answers)
    {
        while (await talk.NextAsync(isRtu ? 8 : 12) is { } request)
        {
            if (answers-- > 0)
                await talk.SendAsync(isRtu ? RtuDevice.CorrectAnswer(request) : ScriptedDevice.CorrectAnswer(request));
        }
    }

    /// <summary>A saw of the server with the typed values, polled by the real clock.</summary>
    private sealed class RealBench : IAsyncDisposable
    {
        private readonly SawInbox _inbox = new("saw-1");
        private readonly CancellationTokenSource _stop = new();
        private readonly ModbusDevicePoller _poller;
        private readonly Task _running;

        public RealBench(int port)
        {
            var saw = PollerBench.Saw(1);
            saw = saw with
            {
                Interval = TimeSpan.FromMilliseconds(20),
                Source = (ModbusSourceOptions)saw.Source with { Signals = [At(Signal.HeadPosition, 130, RegisterType.Float32), At(Signal.MotorLoad, 101, RegisterType.Int16)] },
            };
            var device = new ModbusTcpDeviceOptions { Name = "hall-2", Host = "127.0.0.1", Port = port, ResponseTimeout = TimeSpan.FromMilliseconds(500) };
            _poller = new ModbusDevicePoller(device, [(saw, _inbox)], new FrameClock(TimeProvider.System), TimeProvider.System, Log);
            _running = _poller.RunAsync(_stop.Token);
        }

        public MessageLog Log { get; } = new();

        public List<SignalFrame> Frames { get; } = [];

        public long Errors => _poller.Counters["saw-1"].Errors;

        /// <summary>Takes what came.</summary>
        /// <returns>Frames so far.</returns>
        public int Take()
        {
            while (_inbox.Frames.TryRead(out var frame))
                Frames.Add(frame);
            return Frames.Count;
        }

        public void IsBackWithOneGap()
        {
            Assert.Equal((123.456f, -12345), (Frames[^1].Number(Signal.HeadPosition), Frames[^1].Number(Signal.MotorLoad)));
            Assert.Single(Frames, frame => frame.QualityOf(Signal.HeadPosition) == SignalQuality.SourceFault);
        }

        public async ValueTask DisposeAsync()
        {
            await _stop.CancelAsync();
            await _running;
            _stop.Dispose();
        }

        private static RegisterMapping At(Signal signal, ushort address, RegisterType type) => new() { Signal = signal, Table = RegisterTable.Holding, Address = address, Type = type };
    }
}
