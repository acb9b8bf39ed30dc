using Microsoft.Extensions.Time.Testing;

namespace SawEdge.Torture.Outage;

/// <summary>
/// A clock that is moved by hand, and knows how many wait for a moment to come. A loop that has reckoned how long to wait, and does not wait yet when
/// the clock is moved, would wait too long; so the clock must not be moved before all of them do.
/// </summary>
internal sealed class SlotClock : FakeTimeProvider, IDisposable
{
    private readonly SemaphoreSlim _waiting = new(0);
    private readonly long _started;
    private long _slot = long.MaxValue;

    /// <summary>Starts it.</summary>
    public SlotClock(DateTimeOffset start)
        : base(start) => _started = GetTimestamp();

    /// <summary>The moment that is waited for.</summary>
    public DateTimeOffset Slot
    {
        set => Volatile.Write(ref _slot, value.UtcTicks);
    }

    /// <summary>Ends when one more waits for that moment.</summary>
    /// <returns>Whether that came to pass in the time given.</returns>
    public Task<bool> OneWaitsAsync(TimeSpan within) => _waiting.WaitAsync(within);

    /// <inheritdoc/>
    public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period)
    {
        var timer = base.CreateTimer(callback, state, dueTime, period);
        if (dueTime > TimeSpan.Zero && (Start + GetElapsedTime(_started) + dueTime).UtcTicks == Volatile.Read(ref _slot))
            _waiting.Release();
        return timer;
    }

    /// <inheritdoc/>
    public void Dispose() => _waiting.Dispose();
}
