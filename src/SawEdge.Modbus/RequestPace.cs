using System.Runtime.CompilerServices;
using System.Threading.Tasks.Sources;

namespace SawEdge.Modbus;

/// <summary>
/// Keeps the least time between an answer and the next request, without an allocation. Not for use by two at once.
/// </summary>
internal sealed class RequestPace : IValueTaskSource, IDisposable
{
    private readonly TimeProvider _time;
    private readonly ITimer _timer;
    private ManualResetValueTaskSourceCore<bool> _waiting = new() { RunContinuationsAsynchronously = true };
    private CancellationTokenRegistration _caller;
    private int _isWaiting;
    private long? _last;

    public RequestPace(TimeProvider time)
    {
        _time = time;
        _timer = time.CreateTimer(static pace => ((RequestPace)pace!).End(), this, Timeout.InfiniteTimeSpan, Timeout.InfiniteTimeSpan);
    }

    /// <summary>Notes that an answer came, or that waiting for it ended.</summary>
    public void Mark() => _last = _time.GetTimestamp();

    /// <summary>Waits until so much time has passed since the last <see cref="Mark"/>.</summary>
    /// <exception cref="OperationCanceledException">The caller gave up.</exception>
    [AsyncMethodBuilder(typeof(PoolingAsyncValueTaskMethodBuilder))]
    public async ValueTask WaitAsync(TimeSpan least, CancellationToken cancellation)
    {
        while (Remaining(least) is var remaining && remaining > TimeSpan.Zero)
        {
            await DelayAsync(remaining, cancellation);
            _caller.Dispose();
            cancellation.ThrowIfCancellationRequested();
        }
    }

    /// <inheritdoc/>
    public void Dispose() => _timer.Dispose();

    void IValueTaskSource.GetResult(short token) => _waiting.GetResult(token);

    ValueTaskSourceStatus IValueTaskSource.GetStatus(short token) => _waiting.GetStatus(token);

    void IValueTaskSource.OnCompleted(Action<object?> continuation, object? state, short token, ValueTaskSourceOnCompletedFlags flags) =>
        _waiting.OnCompleted(continuation, state, token, flags);

    private TimeSpan Remaining(TimeSpan least) => _last is { } last && least > TimeSpan.Zero ? least - _time.GetElapsedTime(last) : TimeSpan.Zero;

    private ValueTask DelayAsync(TimeSpan length, CancellationToken cancellation)
    {
        _waiting.Reset();
        Volatile.Write(ref _isWaiting, 1);
        var waiting = new ValueTask(this, _waiting.Version);
        _caller = cancellation.UnsafeRegister(static pace => ((RequestPace)pace!).End(), this);

        // Timers count whole milliseconds and cut off the rest.
        _timer.Change(TimeSpan.FromMilliseconds(Math.Ceiling(length.TotalMilliseconds)), Timeout.InfiniteTimeSpan);
        return waiting;
    }

    // A timer that fires late, after its wait was cancelled, may end the next wait early; that one looks at the time and waits on.
    private void End()
    {
        if (Interlocked.Exchange(ref _isWaiting, 0) == 1)
            _waiting.SetResult(true);
    }
}
