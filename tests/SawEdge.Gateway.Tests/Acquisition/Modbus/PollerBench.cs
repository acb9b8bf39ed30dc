using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Cutting;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition.Modbus;

/// <summary>A poller at work on saws with a head position at 0 and a load at 1, every 100 ms unless stated, unit 1 for the first saw and so on.</summary>
internal sealed class PollerBench : IAsyncDisposable
{
    public static readonly TimeSpan Interval = TimeSpan.FromMilliseconds(100);

    private const int PollsAStep = 4;

    private readonly CancellationTokenSource _stop = new();
    private readonly SawInbox[] _inboxes;

    /// <summary>Starts it.</summary>
    /// <param name="port">Where the device listens on loopback.</param>
    /// <param name="saws">How many saws.</param>
    /// <param name="responseTimeout">How long it waits for an answer.</param>
    /// <param name="interval">The saws' interval, or null for the usual one.</param>
    /// <param name="last">The last saw's interval where it has another.</param>
    /// <param name="isRtu">Whether the device speaks RTU.</param>
    /// <param name="clock">The clock, where a device moves it that may be asked before this is made; null: its own.</param>
    public PollerBench(int port, int saws, TimeSpan responseTimeout, TimeSpan? interval = null, TimeSpan? last = null, bool isRtu = false, FakeTimeProvider? clock = null)
    {
        Clock = clock ?? NewClock();
        var device = new ModbusTcpDeviceOptions { Name = "hall-2", Host = "127.0.0.1", Port = port, ResponseTimeout = responseTimeout, ConnectTimeout = TimeSpan.FromMinutes(5), IsRtu = isRtu };
        _inboxes = [.. Enumerable.Range(1, saws).Select(i => new SawInbox($"saw-{i}"))];
        Poller = new ModbusDevicePoller(device, [.. _inboxes.Select((inbox, i) => (Saw(i + 1) with { Interval = (i == saws - 1 ? last : null) ?? interval ?? Interval }, inbox))], new FrameClock(Clock), Clock, Log);
        Running = Poller.RunAsync(_stop.Token);
    }

    public FakeTimeProvider Clock { get; }

    public MessageLog Log { get; } = new();

    public ModbusDevicePoller Poller { get; }

    public Task Running { get; }

    /// <summary>Everything that each saw's inbox gave so far.</summary>
    public Dictionary<int, List<SignalFrame>> Frames { get; } = [];

    public static FakeTimeProvider NewClock() => new(new DateTimeOffset(2026, 5, 4, 6, 0, 0, TimeSpan.Zero));

    public static SawOptions Saw(int number, string device = "hall-2") => new()
    {
        Machine = new SawMachine { Name = $"saw-{number}" },
        Interval = Interval,
        Source = new ModbusSourceOptions
        {
            Device = device,
            Unit = (byte)number,
            Signals =
            [
                new RegisterMapping { Signal = Signal.HeadPosition, Table = RegisterTable.Holding, Address = 0, Type = RegisterType.UInt16 },
                new RegisterMapping { Signal = Signal.MotorLoad, Table = RegisterTable.Holding, Address = 1, Type = RegisterType.UInt16 },
            ],
        },
    };

    /// <summary>The frames of one saw so far.</summary>
    public List<SignalFrame> Of(int saw)
    {
        var frames = Frames.TryGetValue(saw, out var known) ? known : Frames[saw] = [];
        while (_inboxes[saw - 1].Frames.TryRead(out var frame))
            frames.Add(frame);
        return frames;
    }

    /// <summary>Good frames of one saw so far.</summary>
    public int Good(int saw) => Of(saw).Count(frame => frame.Has(Signal.HeadPosition));

    /// <summary>Lets time pass in small steps until a condition holds, and before each some bytes to and fro, as polls do: answers are late where a device says so and not where the machine is busy.</summary>
    public Task PassUntilAsync(Func<bool> condition, string what, TimeSpan? step = null) => PassUntilAsync(condition, what, () => step ?? Interval / 2);

    /// <inheritdoc cref="PassUntilAsync(Func{bool}, string, TimeSpan?)"/>
    public async Task PassUntilAsync(Func<bool> condition, string what, Func<TimeSpan> step)
    {
        await using var echo = await LoopbackEcho.StartAsync();
        await Until.TrueAsync(
            async () =>
            {
                if (Running.IsFaulted)
                    throw Running.Exception;
                if (condition())
                    return true;
                for (var i = 0; i < PollsAStep; i++)
                    await echo.GoAndComeAsync();
                Clock.Advance(step());
                return condition();
            },
            () => $"{what}; it was said: {string.Join(" | ", Log.Messages)}");
    }

    public async Task StopAsync()
    {
        await _stop.CancelAsync();
        await Running.WaitAsync(TimeSpan.FromMinutes(3));
    }

    public async ValueTask DisposeAsync()
    {
        await StopAsync();
        _stop.Dispose();
    }
}
