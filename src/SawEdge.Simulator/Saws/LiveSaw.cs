using SawEdge.Core.Signals;
using SawEdge.Simulator.Faults;

namespace SawEdge.Simulator.Saws;

/// <summary>A virtual saw that runs by a clock and may be asked from several threads.</summary>
public sealed class LiveSaw : IFrameSource
{
    private readonly VirtualSaw _saw;
    private readonly TimeProvider _clock;
    private const int MostFinished = 1000;

    private readonly Queue<SawTruth> _finished = new();
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
            var answers = _saw.TrySample(_latest, out frame);
            foreach (var truth in _saw.TakeFinished())
                _finished.Enqueue(truth);
            while (_finished.Count > MostFinished)
                _finished.Dequeue();
            return answers;
        }
    }

    /// <summary>Switches a fault on from the next turn on.</summary>
    /// <exception cref="ArgumentException">One of its figures cannot be.</exception>
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

    /// <summary>The truth of the cycles whose turns are over since the last call; of very many the last thousand.</summary>
    public IReadOnlyList<SawTruth> TakeFinished()
    {
        lock (_lock)
        {
            SawTruth[] finished = [.. _finished];
            _finished.Clear();
            return finished;
        }
    }
}
