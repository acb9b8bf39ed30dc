using System.Globalization;
using SawEdge.Core.Signals;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;

namespace SawEdge.Torture.Plant;

/// <summary>A cycle as it really was, on the wall's clock.</summary>
/// <param name="Truth">The saw's own account.</param>
/// <param name="From">When it began.</param>
/// <param name="Contact">When the blade met the stock.</param>
/// <param name="Breakthrough">When it came through.</param>
/// <param name="To">When it ended.</param>
internal sealed record TrueCycle(SawTruth Truth, DateTimeOffset From, DateTimeOffset Contact, DateTimeOffset Breakthrough, DateTimeOffset To);

/// <summary>A saw of the bay.</summary>
internal sealed class BaySaw
{
    private readonly VirtualSawOptions _options;
    private readonly SawClock _clock = new(held: true);
    private readonly LiveSaw _live;

    public BaySaw(VirtualSawOptions options)
    {
        _options = options;
        _live = new LiveSaw(new VirtualSaw(options), _clock);
        Observed = new ObservedSaw(_live, TimeProvider.System.GetUtcNow());
    }

    /// <summary>Its name.</summary>
    public string Name => _options.Machine.Name;

    /// <summary>The saw as the gateway reads it.</summary>
    public ObservedSaw Observed { get; }

    /// <summary>Whether the blade is in the stock.</summary>
    public bool IsInCut => Now.Number(Signal.HeadPosition) < SmallSaw.HeightMm - 1 && Now.Number(Signal.HeadPosition) > 1;

    /// <summary>Whether it stands between two cycles.</summary>
    public bool IsIdle => Now.Flag(Signal.CycleActive) == false;

    /// <summary>Sets it to work.</summary>
    public void Release() => _clock.Release();

    /// <summary>Stops it where it is.</summary>
    public void Hold() => _clock.Hold();

    /// <summary>The cycles that are over, played once more from the beginning: the same options give the same truth.</summary>
    public IReadOnlyList<TrueCycle> Finished()
    {
        var saw = new VirtualSaw(_options);
        var now = _clock.GetUtcNow();
        saw.AdvanceTo(now);
        return [.. saw.TakeFinished().Append(saw.Truth).Where(truth => truth.Ended < now).Select(truth => new TrueCycle(truth, Wall(truth.Started), Wall(truth.Contact!.Value), Wall(truth.Breakthrough!.Value), Wall(truth.Ended)))];
    }

    private SignalFrame Now => _live.TryRead(out var frame) ? frame : throw new InvalidOperationException($"{Name} does not answer");

    private DateTimeOffset Wall(DateTimeOffset moment) => _clock.WallOf(moment) ?? throw new InvalidOperationException($"{Name} was never at {moment:O}");
}

/// <summary>Saws behind one Modbus TCP device that cut for 10 to 20 s, none alike, in cycles that are some 8 s longer.</summary>
internal sealed class SawBay : IAsyncDisposable
{
    private readonly ModbusTcpServer _device;

    private SawBay(IReadOnlyList<BaySaw> saws)
    {
        Saws = saws;
        _device = ModbusTcpServer.Start(saws.Select((saw, i) => (saw, i)).ToDictionary(pair => (byte)(pair.i + 1), pair => new ModbusUnit(pair.saw.Observed, RegisterLayout.Plain)));
    }

    /// <summary>The saws.</summary>
    public IReadOnlyList<BaySaw> Saws { get; }

    /// <summary>The port of their device on loopback.</summary>
    public int Port => _device.Port;

    /// <summary>Requests that the gateway made so far.</summary>
    public long Requests => _device.Requests;

    /// <summary>Sets up a bay whose saws stand still.</summary>
    /// <param name="saws">How many.</param>
    /// <param name="random">Makes them unlike.</param>
    /// <param name="pace">How much quicker they cut than usual.</param>
    public static SawBay Open(int saws, Random random, double pace = 1) => new([.. Enumerable.Range(1, saws).Select(i => new BaySaw(Options(i, (ulong)random.Next(1, int.MaxValue), random, pace)))]);

    /// <summary>Sets all saws to work.</summary>
    public void Release()
    {
        foreach (var saw in Saws)
            saw.Release();
    }

    /// <summary>Lets each saw make some more parts, stops it between two cycles, and waits until its last part is in the history.</summary>
    public async Task FinishAsync(GatewayProcess gateway, HistoryFile history, int parts)
    {
        var until = Saws.ToDictionary(saw => saw, saw => saw.Observed.Steps + parts);
        var running = Saws.ToList();
        await gateway.UntilAsync(
            () =>
            {
                foreach (var saw in running.FindAll(saw => saw.Observed.Steps >= until[saw] && saw.IsIdle))
                {
                    saw.Hold();
                    running.Remove(saw);
                }

                return running.Count == 0;
            },
            "each saw makes some more parts",
            TimeSpan.FromMinutes(3));
        var last = Saws.ToDictionary(saw => saw.Name, saw => saw.Finished()[^1].Truth.PartCount);
        await gateway.UntilAsync(() => last.All(of => history.Cycles(of.Key).Any(cycle => cycle.Whole("part_count") == of.Value)), string.Join(", ", last.Select(of => $"part {of.Value} of {of.Key}")) + " are in the history");
    }

    /// <summary>Writes the saws into a configuration.</summary>
    public void Enter(GatewayFolder folder, string interval)
    {
        folder.WithDevice("plc", _device.Port);
        foreach (var (saw, i) in Saws.Select((saw, i) => (saw, i)))
            folder.WithSaw(saw.Name, "plc", i + 1, interval: interval);
    }

    /// <inheritdoc/>
    public ValueTask DisposeAsync() => _device.DisposeAsync();

    private static VirtualSawOptions Options(int number, ulong seed, Random random, double pace)
    {
        var options = SmallSaw.Named(string.Create(CultureInfo.InvariantCulture, $"saw-{number}"), seed);
        return options with
        {
            Machine = options.Machine with { CounterStart = random.Next(0, 5000) },
            Jobs = [options.Jobs[0] with { RateCm2Min = (12 + (12 * random.NextDouble())) * pace }],
            Work = options.Work with { LeastWaitS = 2, ExtraWaitS = 1.5 },
        };
    }
}
