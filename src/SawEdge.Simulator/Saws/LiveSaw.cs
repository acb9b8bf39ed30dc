using SawEdge.Core.Signals;
using SawEdge.Simulator.Faults;

namespace SawEdge.Simulator.Saws;

/// <summary>A virtual saw that runs by a clock and may be asked from several threads.</summary>
public sealed class LiveSaw : IFrameSource
{
    private readonly VirtualSaw _saw;
    private readonly TimeProvider _clock;
    private readonly Lock _lock = new();
    private DateTimeOffset _latest;

    /// <summary>Sets it going.</summary>
    /// <param name="saw">The saw; from here on nobody else may touch it.</param>
    /// <param name="clock">Its time, usually a <see cref="Time.ScaledTimeProvider"/>.</param>
    public LiveSaw(VirtualSaw saw, TimeProvider clock)
    {
        _saw = saw;
        _clock = clock;
        _latest = saw.TurnStart;
    }

    /// <summary>Name of the saw.</summary>
    public string Name => _saw.Name;

    /// <inheritdoc/>
    public bool TryRead(out SignalFrame frame)
    {
        lock (_lock)
        {
            // A clock that is set back holds the saw still until it has caught up.
            var now = _clock.GetUtcNow();
            _latest = now > _latest ? now : _latest;
            return _saw.TrySample(_latest, out frame);
        }
    }

    /// <summary>Switches a fault on from the next turn on.</summary>
    public void SwitchOn(Fault fault)
    {
        lock (_lock)
            _saw.SwitchOn(fault);
    }

    /// <summary>Switches a fault off from the next turn on.</summary>
    /// <returns>Whether it was switched on.</returns>
    public bool SwitchOff(Fault fault)
    {
        lock (_lock)
            return _saw.SwitchOff(fault);
    }

    /// <summary>The truth of the cycles whose turns are over since the last call.</summary>
    public IReadOnlyList<SawTruth> TakeFinished()
    {
        lock (_lock)
            return _saw.TakeFinished();
    }
}
