using System.Globalization;
using System.Text.Json.Nodes;
using SawEdge.Core.Sections;
using SawEdge.Core.Signals;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;

namespace SawEdge.Torture.Outage;

/// <summary>A cycle as it really was.</summary>
/// <param name="Saw">The saw.</param>
/// <param name="PartCount">The part counter after it.</param>
/// <param name="Started">When it began.</param>
/// <param name="Ended">When it ended.</param>
internal readonly record struct SteppedCycle(string Saw, long PartCount, DateTimeOffset Started, DateTimeOffset Ended);

/// <summary>Many saws behind Modbus TCP on a clock that is moved by hand: a step of the clock is over when each saw was asked.</summary>
internal sealed class SteppedBay : IAsyncDisposable
{
    private const int UnitsPerDevice = 25;
    private const string Job = "TQ-120";

    // Everything in one request.
    private const string Signals = """
        {
          "cycle_active": { "address": "input 100", "bit": 0 },
          "cutting": { "address": "input 100", "bit": 1 },
          "blade_running": { "address": "input 100", "bit": 2 },
          "head_position": { "address": "input 101", "type": "int32", "order": "cdab", "scale": 0.001 },
          "motor_load": { "address": "input 103", "type": "uint16", "scale": 0.004 },
          "blade_speed": { "address": "input 104", "type": "float32", "order": "cdab" },
          "part_count": { "address": "input 106", "type": "uint16" },
          "fault_code": { "address": "input 107", "type": "int16" },
          "job": { "address": "input 110", "type": "ascii", "registers": 8 },
          "blade_id": { "address": "input 126", "type": "ascii", "registers": 8 }
        }
        """;

    // Nothing is late on a clock that waits: only a gateway that is stuck asks no more.
    private static readonly TimeSpan Stuck = TimeSpan.FromMinutes(2);

    private readonly SlotClock _clock;
    private readonly TimeSpan _interval;
    private readonly SteppedSaw[] _saws;
    private readonly ModbusTcpServer[] _devices;
    private readonly DateTimeOffset _start;
    private int _steps;
    private int _polling;
    private long _reads;

    /// <summary>Sets them up.</summary>
    public SteppedBay(int saws, int seed, SlotClock clock, TimeSpan interval)
    {
        (_clock, _interval, _start) = (clock, interval, clock.GetUtcNow());
        _saws = [.. Enumerable.Range(1, saws).Select(number => new SteppedSaw(this, Options(number, (ulong)seed, clock.GetUtcNow())))];
        _devices = [.. _saws.Chunk(UnitsPerDevice).Select(chunk => ModbusTcpServer.Start(chunk.Index().ToDictionary(saw => (byte)(saw.Index + 1), saw => new ModbusUnit(saw.Item, RegisterLayout.Packed(4)))))];
        Expect();
    }

    /// <summary>How often a saw was asked.</summary>
    public long Reads => Interlocked.Read(ref _reads);

    /// <summary>How many cycles are over, of all saws.</summary>
    public int FinishedCount => _saws.Sum(saw => saw.Finished().Count);

    /// <summary>Cycles that are over, of all saws.</summary>
    public IReadOnlyList<SteppedCycle> Finished() => [.. _saws.SelectMany(saw => saw.Finished())];

    /// <summary>How many cycles of all saws are over; their truth is not kept, so that it takes no memory.</summary>
    public long CountFinished() => _saws.Sum(saw => saw.CountFinished());

    /// <summary>Writes devices and saws into a configuration, and the job list.</summary>
    public void Enter(GatewayFolder folder)
    {
        File.WriteAllText(folder.File("jobs.csv"), $"job,material,section,part_length,standard\n{Job},1045,round 120 mm,120 mm,14 cm2/min\n");
        folder.With("devices", new JsonArray([.. _devices.Index().Select(device => new JsonObject { ["name"] = $"plc-{device.Index}", ["host"] = "127.0.0.1", ["port"] = device.Item.Port, ["responseTimeout"] = "60 s" })]));
        foreach (var (i, saw) in _saws.Index())
            folder.WithSaw(saw.Name, $"plc-{i / UnitsPerDevice}", (i % UnitsPerDevice) + 1, Signals, string.Create(CultureInfo.InvariantCulture, $"{_interval.TotalSeconds} s"));
    }

    /// <summary>Moves the clock by one interval and waits until each saw was polled and the next poll is waited for, however long the machine takes for it.</summary>
    /// <param name="gateway">What polls; where it has ended, nothing is waited for.</param>
    /// <exception cref="TimeoutException">It polls no more.</exception>
    public async Task StepAsync(Task gateway)
    {
        await PolledAsync(gateway);
        Expect();
        _clock.Advance(_interval);
        await PolledAsync(gateway);
    }

    /// <summary>Stops all saws where they are.</summary>
    public void Hold()
    {
        foreach (var saw in _saws)
            saw.Clock.Hold();
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        foreach (var device in _devices)
            await device.DisposeAsync();
    }

    // A device's saws are polled one after the other, then the loop waits for the next slot of its schedule.
    private void Expect()
    {
        _clock.Slot = _start + (++_steps * _interval);
        _polling = _devices.Length;
    }

    private async Task PolledAsync(Task gateway)
    {
        for (; _polling > 0 && !gateway.IsCompleted; _polling--)
        {
            if (!await _clock.OneWaitsAsync(Stuck) && !gateway.IsCompleted)
                throw new TimeoutException(string.Create(CultureInfo.InvariantCulture, $"At {_clock.GetUtcNow():O} {_polling} of {_devices.Length} devices were not polled in {Stuck.TotalSeconds} s."));
        }
    }

    // Eight minutes a cut, and pauses that are seen at so few looks.
    private static VirtualSawOptions Options(int number, ulong seed, DateTimeOffset start) => new()
    {
        Machine = new MachineProfile { Name = string.Create(CultureInfo.InvariantCulture, $"saw-{number}"), CounterStart = 10 * number },
        Jobs =
        [
            new VirtualJob
            {
                Id = Job,
                Section = SectionFactory.Round(120),
                Material = new VirtualMaterial("1045", 1800, 0.25),
                RateCm2Min = 14 + (number % 5),
                BladeSpeedMMin = 70,
                PartLengthMm = 120,
                Quantity = 100_000,
                TrimLengthMm = 0,
            },
        ],
        Seed = (seed * 1000) + (ulong)number,
        Start = start,
        Work = new WorkPattern { LeastWaitS = 70, ExtraWaitS = 20, StopChance = 0, BarChangeS = 60 },
        IdPrefix = string.Create(CultureInfo.InvariantCulture, $"Q{number}-"),
    };

    /// <summary>A clock that can stand while the world's goes on.</summary>
    internal sealed class HeldClock(TimeProvider clock) : TimeProvider
    {
        private DateTimeOffset? _held;

        /// <summary>Stops it.</summary>
        public void Hold() => _held ??= clock.GetUtcNow();

        /// <inheritdoc/>
        public override DateTimeOffset GetUtcNow() => _held ?? clock.GetUtcNow();
    }

    private sealed class SteppedSaw : IFrameSource
    {
        private readonly SteppedBay _bay;
        private readonly LiveSaw _live;
        // Small, because the memory of this process is what the trial measures.
        private readonly List<SteppedCycle> _finished = [];
        private long _counted;

        public SteppedSaw(SteppedBay bay, VirtualSawOptions options)
        {
            _bay = bay;
            Clock = new HeldClock(bay._clock);
            _live = new LiveSaw(new VirtualSaw(options), Clock);
            Name = options.Machine.Name;
        }

        public string Name { get; }

        public HeldClock Clock { get; }

        public List<SteppedCycle> Finished()
        {
            _finished.AddRange(_live.TakeFinished().Select(truth => new SteppedCycle(Name, truth.PartCount, truth.Started, truth.Ended)));
            return _finished;
        }

        public long CountFinished() => _counted += _live.TakeFinished().Count;

        public bool TryRead(out SignalFrame frame)
        {
            var answers = _live.TryRead(out frame);
            Interlocked.Increment(ref _bay._reads);
            return answers;
        }
    }
}
