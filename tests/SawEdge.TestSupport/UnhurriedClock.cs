namespace SawEdge.TestSupport;

/// <summary>
/// The world's clock, as long as this process keeps up: it goes on in small steps, and before each a byte goes to and fro over loopback, as a poll does.
/// A machine that is held up holds up the clock, so that what runs in this process has missed nothing afterwards.
/// </summary>
public sealed class UnhurriedClock : TimeProvider, IAsyncDisposable
{
    // What a hold-up can cost.
    private static readonly TimeSpan LongestStep = TimeSpan.FromMilliseconds(10);
    private static readonly TimeSpan Pace = TimeSpan.FromMilliseconds(5);

    private readonly DateTimeOffset _start = System.GetUtcNow();
    private readonly Lock _gate = new();
    private readonly List<Timer> _timers = [];
    private readonly CancellationTokenSource _stop = new();
    private readonly Task _going;
    private long _now;

    /// <summary>Starts it.</summary>
    public UnhurriedClock() => _going = GoAsync();

    /// <inheritdoc/>
    public override long TimestampFrequency => TimeSpan.TicksPerSecond;

    /// <inheritdoc/>
    public override long GetTimestamp() => Volatile.Read(ref _now);

    /// <inheritdoc/>
    public override DateTimeOffset GetUtcNow() => _start.AddTicks(GetTimestamp());

    /// <inheritdoc/>
    public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period)
    {
        var timer = new Timer(this, callback, state);
        timer.Change(dueTime, period);
        return timer;
    }

    /// <summary>Stops it. Timers no longer fire.</summary>
    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        try
        {
            await _going;
        }
        catch (OperationCanceledException)
        {
            // Stopped.
        }

        _stop.Dispose();
    }

    private async Task GoAsync()
    {
        await using var echo = await LoopbackEcho.StartAsync(_stop.Token);
        using var pace = new PeriodicTimer(Pace);
        for (var last = System.GetTimestamp(); await pace.WaitForNextTickAsync(_stop.Token);)
        {
            await echo.GoAndComeAsync(_stop.Token);
            var passed = System.GetElapsedTime(last);
            last = System.GetTimestamp();
            GoOn(passed < LongestStep ? passed : LongestStep);
        }
    }

    private void GoOn(TimeSpan step)
    {
        lock (_gate)
        {
            var now = Volatile.Read(ref _now) + step.Ticks;
            Volatile.Write(ref _now, now);
            for (var i = _timers.Count - 1; i >= 0; i--)
            {
                if (_timers[i].FiresNeedsLock(now))
                    _timers.RemoveAt(i);
            }
        }
    }

    private sealed class Timer(UnhurriedClock clock, TimerCallback callback, object? state) : ITimer
    {
        private long _due;
        private long _period;
        private bool _isDisposed;

        public bool Change(TimeSpan dueTime, TimeSpan period)
        {
            lock (clock._gate)
            {
                if (_isDisposed)
                    return false;
                clock._timers.Remove(this);
                if (dueTime == Timeout.InfiniteTimeSpan)
                    return true;
                (_due, _period) = (clock.GetTimestamp() + dueTime.Ticks, period > TimeSpan.Zero ? period.Ticks : 0);
                clock._timers.Add(this);
                return true;
            }
        }

        // Fires on the pool, as the system's timers do; ticks that were missed are not made up for.
        public bool FiresNeedsLock(long now)
        {
            if (_due > now)
                return false;
            ThreadPool.UnsafeQueueUserWorkItem(static timer => timer.Fire(), this, preferLocal: false);
            _due = Math.Max(_due + _period, now);
            return _period == 0;
        }

        public void Dispose()
        {
            lock (clock._gate)
            {
                _isDisposed = true;
                clock._timers.Remove(this);
            }
        }

        public ValueTask DisposeAsync()
        {
            Dispose();
            return ValueTask.CompletedTask;
        }

        private void Fire() => callback(state);
    }
}
