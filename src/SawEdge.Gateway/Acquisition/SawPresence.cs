using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Acquisition;

/// <summary>
/// Whether a saw speaks: follows what arrives, frame by frame, by the clock and not by the frames' own times. Allocates nothing a
/// frame. For several threads.
/// </summary>
public sealed class SawPresence
{
    /// <summary>How long a saw must have spoken before a signal that never came is taken for one that it does not have.</summary>
    public static readonly TimeSpan Acquaintance = TimeSpan.FromMinutes(10);

    private static readonly TimeSpan LeastGap = TimeSpan.FromSeconds(10);

    private readonly Lock _gate = new();
    private readonly TimeProvider _time;
    private readonly Signal[] _mapped;
    private readonly bool _publishesChanges;
    private readonly long _gap;
    private readonly long _started;
    private readonly long[] _goodAt = new long[SignalInfo.Count];
    private uint _everGood;
    private uint _missing;
    private bool _hasSpoken;
    private bool _speaks;
    private long _firstAt;
    private long _lastAt;

    /// <summary>Begins to listen.</summary>
    /// <param name="saw">Name of the saw.</param>
    /// <param name="mapped">The signals that it is to send.</param>
    /// <param name="interval">Time between its frames.</param>
    /// <param name="time">The clock.</param>
    /// <param name="publishesChanges">Whether it sends only what changes: then it is silent only once its source said that nothing can come.</param>
    public SawPresence(string saw, IEnumerable<Signal> mapped, TimeSpan interval, TimeProvider time, bool publishesChanges = false)
    {
        Saw = saw;
        _publishesChanges = publishesChanges;
        _time = time;
        _mapped = [.. mapped];
        var gap = TimeSpan.FromTicks(Math.Max(10 * interval.Ticks, LeastGap.Ticks));
        _gap = (long)(gap.TotalSeconds * time.TimestampFrequency);
        _started = time.GetTimestamp();
    }

    /// <summary>Name of the saw.</summary>
    public string Saw { get; }

    /// <summary>
    /// Seconds since the last frame that held a usable value. Before the first one only the time since the start is known: it has been
    /// silent for at least that long.
    /// </summary>
    public (double Seconds, bool AtLeast) Silence
    {
        get
        {
            lock (_gate)
            {
                if (_publishesChanges && _speaks)
                    return (0, false);
                return (_time.GetElapsedTime(_hasSpoken ? _lastAt : _started).TotalSeconds, !_hasSpoken);
            }
        }
    }

    /// <summary>
    /// Seconds for which frames have come without a signal that was usable before; NaN while nothing comes. 0 is a least value as long as
    /// signals are mapped that did not come since the start, and the saw has not spoken for long: they may have been there before.
    /// </summary>
    public (double Seconds, bool AtLeast) Stale
    {
        get
        {
            lock (_gate)
            {
                if (!_speaks)
                    return (double.NaN, false);
                var oldest = long.MaxValue;
                var isComplete = true;
                foreach (var signal in _mapped)
                {
                    var bit = 1u << (int)signal;
                    if ((_missing & bit) != 0)
                        oldest = Math.Min(oldest, _goodAt[(int)signal]);
                    isComplete &= (_everGood & bit) != 0;
                }

                if (oldest != long.MaxValue)
                    return (_time.GetElapsedTime(oldest, _lastAt).TotalSeconds, false);
                return (0, !isComplete && _time.GetElapsedTime(_firstAt) < Acquaintance);
            }
        }
    }

    /// <summary>The signals that were usable before and are not any more.</summary>
    public IReadOnlyList<Signal> Missing
    {
        get
        {
            lock (_gate)
            {
                var missing = _missing;
                return [.. _mapped.Where(signal => (missing & (1u << (int)signal)) != 0)];
            }
        }
    }

    /// <summary>Takes a frame as it arrives.</summary>
    public void Take(in SignalFrame frame)
    {
        lock (_gate)
        {
            var now = _time.GetTimestamp();
            var good = 0u;
            var silent = 0u;
            foreach (var signal in _mapped)
            {
                var bit = 1u << (int)signal;
                var quality = frame.QualityOf(signal);
                if (quality == SignalQuality.Good)
                    good |= bit;

                // A text that is empty is no trouble: no job, no bar.
                else if (quality == SignalQuality.NotRead && !SignalInfo.IsNumeric(signal))
                    silent |= bit;
            }

            if (good == 0)
            {
                if (_publishesChanges && _speaks)
                    _lastAt = now;
                _speaks = false;
                return;
            }

            // After a silence every signal gets its time again.
            if (!_hasSpoken)
                _firstAt = now;
            var beginsAnew = !_speaks || now - _lastAt > _gap;
            (_hasSpoken, _speaks, _lastAt) = (true, true, now);
            _everGood |= good;
            _missing = _everGood & ~(good | silent);
            foreach (var signal in _mapped)
            {
                if (beginsAnew || (_missing & (1u << (int)signal)) == 0)
                    _goodAt[(int)signal] = now;
            }
        }
    }
}
