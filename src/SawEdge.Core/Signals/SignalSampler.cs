namespace SawEdge.Core.Signals;

/// <summary>
/// Draws the frames of one saw together to samples on a fixed grid of time: intervals begin at multiples of their length since
/// 1970 UTC, so that the samples of all saws and of all runs meet. Deterministic, no clock; nothing is allocated but an array when an interval
/// ends. Not thread safe.
/// </summary>
/// <remarks>
/// <para>A mean is that of the frames, not of time: each good value counts once. Two parts of an interval, before and after a restart, then
/// make the very figures of the whole, nothing has to be assumed about how long a value held, and a flag's mean is simply its share.
/// Of a source that sends only what changes it leans to the time in which much changed.</para>
/// <para>An interval is told when the first frame of another one comes; one without frames is not told. A frame of a time that was seen
/// already is passed over, until <see cref="ProofOfStep"/> of them in a row rise among themselves: then the clock was set back, and the
/// intervals that it comes to again go on from what <see cref="Restore"/> knows of them.</para>
/// </remarks>
public sealed class SignalSampler
{
    /// <summary>Frames behind the last one that must rise among themselves before a clock is believed to have been set back; as in <see cref="Oee.StateWatch"/>.</summary>
    public const int ProofOfStep = 3;

    private static readonly Signal[] Sampled = [.. SignalSample.Signals.Select(info => info.Signal)];
    private static readonly bool[] IsFlag = [.. SignalSample.Signals.Select(info => info.Kind == SignalKind.Flag)];

    private readonly long _every;
    private readonly Sum[] _sums = new Sum[Sampled.Length];
    private readonly Queue<SignalSample> _told = new();
    private long _interval = long.MinValue;
    private long _newest = long.MinValue;
    private long _lastSeen = long.MinValue;
    private int _frames;
    private int _behind;
    private long _lastBehind;

    /// <summary>Prepares a sampler.</summary>
    /// <param name="every">Length of the intervals: whole milliseconds.</param>
    /// <exception cref="ArgumentOutOfRangeException">It is none.</exception>
    public SignalSampler(TimeSpan every)
    {
        if (every <= TimeSpan.Zero || every.Ticks % TimeSpan.TicksPerMillisecond != 0)
            throw new ArgumentOutOfRangeException(nameof(every), every, "The length of an interval is at least one millisecond, and a whole number of them.");
        _every = every.Ticks;
    }

    /// <summary>Length of the intervals.</summary>
    public TimeSpan Every => new(_every);

    /// <summary>Samples that wait for <see cref="TryTake"/>.</summary>
    public int Waiting => _told.Count;

    /// <summary>Begin of the interval to which a moment belongs.</summary>
    public DateTimeOffset IntervalOf(DateTimeOffset at) => new(Begin(at.UtcTicks), TimeSpan.Zero);

    /// <summary>
    /// Whether a frame would begin an interval of which something may be known already: the first one after a start, or one that a clock
    /// comes to again. Then, before it is pushed, what waits is to be taken, and <see cref="Restore"/> called with what is known, if anything is.
    /// </summary>
    /// <param name="frame">The frame that comes next.</param>
    public bool IsOpenedAgainBy(in SignalFrame frame)
    {
        var at = frame.Time.UtcTicks;
        var begin = Begin(at);
        return begin != _interval && begin <= (_newest == long.MinValue ? long.MaxValue : _newest) && Has(frame) && (at > _lastSeen || ProvesStep(at));
    }

    /// <summary>Ends the interval that is open and goes on with one of which this is known.</summary>
    /// <param name="known">What is known of it.</param>
    /// <exception cref="ArgumentException">Its length is another one.</exception>
    public void Restore(in SignalSample known)
    {
        if (known.Every.Ticks != _every || Begin(known.From.UtcTicks) != known.From.UtcTicks)
            throw new ArgumentException($"A sample of {known.Every} from {known.From:O} cannot be gone on with in intervals of {Every}.", nameof(known));
        Close();
        Open(known.From.UtcTicks);
        _frames = known.Frames;
        for (var i = 0; i < _sums.Length; i++)
            _sums[i] = Sum.Of(known.Figures[i]);
    }

    /// <summary>Takes a frame.</summary>
    public void Push(in SignalFrame frame)
    {
        if (!Has(frame))
            return;
        var at = frame.Time.UtcTicks;
        if (at <= _lastSeen && !ProvesStep(at))
        {
            _behind = _behind > 0 && at > _lastBehind ? _behind + 1 : 1;
            _lastBehind = at;
            return;
        }

        (_behind, _lastSeen) = (0, at);
        var begin = Begin(at);
        if (begin != _interval)
        {
            Close();
            Open(begin);
        }

        _frames++;
        for (var i = 0; i < Sampled.Length; i++)
        {
            if (TryRead(frame, i, out var value))
                _sums[i].Add(value);
        }
    }

    /// <summary>Tells the interval that is open as far as it was seen, as before a stop. More of its frames may follow: it is told again then, with all of them.</summary>
    public void Complete()
    {
        if (_frames > 0)
            _told.Enqueue(Sample());
    }

    /// <summary>Takes the next sample, in the order in which they ended. One of an interval that was told before holds all of its frames and takes the other's place.</summary>
    public bool TryTake(out SignalSample sample) => _told.TryDequeue(out sample);

    private static bool Has(in SignalFrame frame)
    {
        for (var i = 0; i < Sampled.Length; i++)
        {
            if (TryRead(frame, i, out _))
                return true;
        }

        return false;
    }

    // What single precision cannot hold is no value of a saw.
    private static bool TryRead(in SignalFrame frame, int i, out double value)
    {
        value = 0;
        if (!frame.Has(Sampled[i]))
            return false;
        value = frame.Number(Sampled[i]);
        if (IsFlag[i])
            value = value != 0 ? 1 : 0;
        return Math.Abs(value) <= float.MaxValue;
    }

    private long Begin(long at)
    {
        var rest = (at - DateTimeOffset.UnixEpoch.Ticks) % _every;
        return at - (rest < 0 ? rest + _every : rest);
    }

    private bool ProvesStep(long at) => _behind >= ProofOfStep - 1 && at > _lastBehind;

    private void Open(long begin)
    {
        _interval = begin;
        _newest = Math.Max(_newest, begin);
        _frames = 0;
        Array.Clear(_sums);
    }

    private void Close()
    {
        Complete();
        _frames = 0;
    }

    private SignalSample Sample()
    {
        var figures = new SignalFigures[_sums.Length];
        for (var i = 0; i < figures.Length; i++)
            figures[i] = _sums[i].Figures;
        return new SignalSample(new DateTimeOffset(_interval, TimeSpan.Zero), Every, _frames, figures);
    }

    /// <summary>What was seen of one signal in the interval that is open.</summary>
    private struct Sum
    {
        private int _count;
        private double _sum;
        private double _least;
        private double _greatest;
        private double _last;

        public readonly SignalFigures Figures => _count == 0
            ? default
            : new SignalFigures(_count, (float)Math.Clamp(_sum / _count, _least, _greatest), (float)_least, (float)_greatest, (float)_last);

        public static Sum Of(in SignalFigures known) => new()
        {
            _count = known.Count,
            _sum = (double)known.Mean * known.Count,
            _least = known.Least,
            _greatest = known.Greatest,
            _last = known.Last,
        };

        public void Add(double value)
        {
            _least = _count == 0 ? value : Math.Min(_least, value);
            _greatest = _count == 0 ? value : Math.Max(_greatest, value);
            _last = value;
            _sum += value;
            _count++;
        }
    }
}
