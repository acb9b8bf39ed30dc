using SawEdge.Core;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>
/// Keeps what a person who connects a saw wants to see of it: the latest raw and decoded value of each signal, its least and greatest
/// value since the start, and what the cycle detector thinks. For several threads; bounded.
/// </summary>
internal sealed class SawWatch : IRawValueObserver
{
    private readonly Lock _gate = new();
    private readonly TimeProvider _time;
    private readonly SawPipeline _pipeline;
    private readonly SignalTrail[] _trails;
    private readonly SignalTrail?[] _bySignal = new SignalTrail?[SignalInfo.Count];
    private readonly RoundTrips _roundTrips = new();
    private readonly long _started;
    private SignalFrame _last;
    private long _frames;
    private long _polls;
    private int _requests;
    private (Core.Cycles.CyclePhase Phase, DateTimeOffset Since) _phase;
    private CycleRecord? _lastCycle;
    private long _cycles;

    /// <summary>Begins to watch.</summary>
    /// <param name="places">The signals that the saw maps.</param>
    /// <param name="pipeline">The saw's pipeline; nobody else feeds it.</param>
    /// <param name="time">The clock of the ages.</param>
    public SawWatch(IReadOnlyList<SignalPlace> places, SawPipeline pipeline, TimeProvider time)
    {
        _pipeline = pipeline;
        _time = time;
        _started = time.GetTimestamp();
        _trails = [.. places.Select(place => new SignalTrail(place))];
        foreach (var trail in _trails)
            _bySignal[(int)trail.Place.Signal] = trail;
    }

    /// <summary>Frames that came so far.</summary>
    public long Frames => Interlocked.Read(ref _frames);

    /// <summary>Takes a frame.</summary>
    public void Take(in SignalFrame frame)
    {
        lock (_gate)
        {
            _frames++;
            _last = frame;
            var now = _time.GetTimestamp();
            foreach (var trail in _trails)
                trail.Take(frame, now);
            _pipeline.Push(frame);
            if (_pipeline.Phase != _phase.Phase)
                _phase = (_pipeline.Phase, frame.Time);
            while (_pipeline.TryTake(out var finished))
            {
                _lastCycle = finished.Record;
                _cycles++;
            }

            while (_pipeline.TryTakeFinding(out _))
            {
                // Findings are for alarms; here they only must not pile up.
            }
        }
    }

    /// <summary>What there is to see now.</summary>
    public WatchMoment Look()
    {
        lock (_gate)
        {
            var now = _time.GetTimestamp();
            return new WatchMoment
            {
                Running = _time.GetElapsedTime(_started, now),
                Frames = _frames,
                LastFrameAt = _frames > 0 ? _last.Time : null,
                Signals = [.. _trails.Select(trail => trail.Look(_time, now))],
                Cycle = _pipeline.Now(),
                PhaseSince = _phase.Since,
                HeadMm = _last.Number(Signal.HeadPosition),
                LoadKw = _last.Number(Signal.MotorLoad),
                LastCycle = _lastCycle,
                Cycles = _cycles,
                Polls = _polls == 0 ? null : new PollFigures(_polls, _requests, _roundTrips.Median, _roundTrips.Greatest),
            };
        }
    }

    /// <inheritdoc/>
    public void RegistersRead(Signal signal, ReadOnlySpan<ushort> words)
    {
        lock (_gate)
            _bySignal[(int)signal]?.CameAs(words, _time.GetTimestamp());
    }

    /// <inheritdoc/>
    public void BitRead(Signal signal, bool bit)
    {
        lock (_gate)
            _bySignal[(int)signal]?.CameAs(bit, _time.GetTimestamp());
    }

    /// <inheritdoc/>
    public void TextRead(Signal signal, ReadOnlySpan<byte> raw)
    {
        lock (_gate)
            _bySignal[(int)signal]?.CameAs(raw, _time.GetTimestamp());
    }

    /// <inheritdoc/>
    public void RequestAnswered(TimeSpan roundTrip)
    {
        lock (_gate)
            _roundTrips.Add(roundTrip);
    }

    /// <inheritdoc/>
    public void PollEnded(int requests)
    {
        lock (_gate)
        {
            _polls++;
            _requests = requests;
        }
    }
}
