namespace SawEdge.Simulator.Time;

/// <summary>
/// Virtual time that runs a fixed number of times as fast as another clock. Everything that takes its time, its
/// timestamps and its timers from here (simulator and gateway alike) lives in the same virtual time: an interval of
/// 500 ms at a factor of 20 is over after 25 ms of the wall clock. It never runs backwards, because it follows the
/// inner clock's timestamps and not its time of day.
/// </summary>
public sealed class ScaledTimeProvider : TimeProvider
{
    private readonly TimeProvider _inner;
    private readonly long _innerStart;

    /// <summary>Starts virtual time.</summary>
    /// <param name="inner">The clock that is followed, usually <see cref="TimeProvider.System"/>.</param>
    /// <param name="factor">Virtual seconds in one second of the inner clock; more than 0.</param>
    /// <param name="start">What virtual time it is now.</param>
    /// <exception cref="ArgumentOutOfRangeException">The factor is not a finite number above 0.</exception>
    public ScaledTimeProvider(TimeProvider inner, double factor, DateTimeOffset start)
    {
        if (!double.IsFinite(factor) || factor <= 0)
            throw new ArgumentOutOfRangeException(nameof(factor), factor, "The factor must be a number above 0.");
        _inner = inner;
        _innerStart = inner.GetTimestamp();
        Factor = factor;
        Start = start.ToUniversalTime();
    }

    /// <summary>Virtual seconds in one second of the inner clock.</summary>
    public double Factor { get; }

    /// <summary>Virtual time at which this clock started, UTC.</summary>
    public DateTimeOffset Start { get; }

    /// <inheritdoc/>
    public override long TimestampFrequency => TimeSpan.TicksPerSecond;

    /// <inheritdoc/>
    public override TimeZoneInfo LocalTimeZone => _inner.LocalTimeZone;

    /// <inheritdoc/>
    public override DateTimeOffset GetUtcNow() => Start.AddTicks(GetTimestamp());

    /// <inheritdoc/>
    public override long GetTimestamp() => (long)(_inner.GetElapsedTime(_innerStart).Ticks * Factor);

    /// <summary>How long a stretch of virtual time takes on the inner clock.</summary>
    public TimeSpan ToInner(TimeSpan virtualTime) => TimeSpan.FromTicks((long)Math.Ceiling(virtualTime.Ticks / Factor));

    /// <inheritdoc/>
    public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period)
    {
        ArgumentNullException.ThrowIfNull(callback);
        var timer = new ScaledTimer(this, callback, state);
        timer.Change(dueTime, period);
        return timer;
    }

    /// <summary>
    /// A timer that reckons its ticks in virtual time and asks the inner clock for one wake-up at a time: handing the
    /// scaled period down would let it be cut to whole milliseconds, so that ticks would drift or, below 1 ms, stop.
    /// </summary>
    private sealed class ScaledTimer : ITimer
    {
        private readonly ScaledTimeProvider _clock;
        private readonly TimerCallback _callback;
        private readonly object? _state;
        private readonly Lock _lock = new();
        private readonly ITimer _wakeUp;
        private long _dueTimestamp = -1;
        private long _periodTicks = -1;
        private bool _disposed;

        public ScaledTimer(ScaledTimeProvider clock, TimerCallback callback, object? state)
        {
            _clock = clock;
            _callback = callback;
            _state = state;
            _wakeUp = clock._inner.CreateTimer(static self => ((ScaledTimer)self!).OnWakeUp(), this, Timeout.InfiniteTimeSpan, Timeout.InfiniteTimeSpan);
        }

        public bool Change(TimeSpan dueTime, TimeSpan period)
        {
            Check(dueTime, nameof(dueTime));
            Check(period, nameof(period));
            TimeSpan wait;
            lock (_lock)
            {
                if (_disposed)
                    return false;
                _periodTicks = period > TimeSpan.Zero ? period.Ticks : -1;
                _dueTimestamp = dueTime == Timeout.InfiniteTimeSpan ? -1 : _clock.GetTimestamp() + dueTime.Ticks;
                wait = WaitNeedsLock();
            }

            // Outside the lock: a clock under test may call back at once, on this very thread.
            return _wakeUp.Change(wait, Timeout.InfiniteTimeSpan);
        }

        public void Dispose()
        {
            lock (_lock)
                _disposed = true;
            _wakeUp.Dispose();
        }

        public ValueTask DisposeAsync()
        {
            lock (_lock)
                _disposed = true;
            return _wakeUp.DisposeAsync();
        }

        private static void Check(TimeSpan time, string name)
        {
            if (time < TimeSpan.Zero && time != Timeout.InfiniteTimeSpan)
                throw new ArgumentOutOfRangeException(name, time, "Must not be negative, or be Timeout.InfiniteTimeSpan.");
        }

        private void OnWakeUp()
        {
            bool due;
            TimeSpan wait;
            lock (_lock)
            {
                if (_disposed || _dueTimestamp < 0)
                    return;
                var now = _clock.GetTimestamp();
                due = now >= _dueTimestamp;
                if (due)
                {
                    // Ticks that were missed are not made up for: nothing gains from a pile of late polls.
                    _dueTimestamp = _periodTicks < 0 ? -1 : _dueTimestamp + (((now - _dueTimestamp) / _periodTicks) + 1) * _periodTicks;
                }

                wait = WaitNeedsLock();
            }

            if (wait != Timeout.InfiniteTimeSpan)
                _wakeUp.Change(wait, Timeout.InfiniteTimeSpan);
            if (due)
                _callback(_state);
        }

        private TimeSpan WaitNeedsLock()
        {
            if (_dueTimestamp < 0)
                return Timeout.InfiniteTimeSpan;
            var wait = _clock.ToInner(TimeSpan.FromTicks(Math.Max(0, _dueTimestamp - _clock.GetTimestamp())));
            // The system's timers count whole milliseconds and cut the rest off: rounded up, so that a tick is never early.
            return TimeSpan.FromMilliseconds(Math.Ceiling(wait.TotalMilliseconds));
        }
    }
}
