namespace SawEdge.Gateway.Acquisition;

/// <summary>
/// The time of a saw's frames: the wall clock as it was at one moment, carried on by the monotonic clock. A wall clock that is set
/// while a cycle runs therefore bends no duration: the times of two frames differ by exactly what passed between them. Between two cycles
/// <see cref="Follow"/> goes over to what the wall clock says then. Read by the source while the saw's loop lets it follow.
/// </summary>
public sealed class FrameClock
{
    /// <summary>Less than that is left as it is: between two looks it is no step, and in all it does no harm.</summary>
    private static readonly TimeSpan Least = TimeSpan.FromSeconds(1);

    private readonly TimeProvider _time;
    private Anchor _anchor;
    private TimeSpan _seen;

    /// <summary>Anchors the clock at the present moment.</summary>
    public FrameClock(TimeProvider time)
    {
        _time = time;
        _anchor = NewAnchor();
    }

    /// <summary>The present moment, UTC.</summary>
    public DateTimeOffset Now => At(_time.GetTimestamp());

    /// <summary>The wall clock less this clock: what <see cref="Follow"/> would add.</summary>
    public TimeSpan Deviation => _time.GetUtcNow() - Now;

    /// <summary>The moment of a timestamp of the same time provider, UTC.</summary>
    public DateTimeOffset At(long timestamp)
    {
        var anchor = Volatile.Read(ref _anchor);
        return anchor.At + _time.GetElapsedTime(anchor.Timestamp, timestamp);
    }

    /// <summary>By how much the wall clock was set since this was asked last; zero: it was not. For one thread.</summary>
    public TimeSpan LookForStep()
    {
        var deviation = Deviation;
        var step = deviation - _seen;
        _seen = deviation;
        return step.Duration() < Least ? TimeSpan.Zero : step;
    }

    /// <summary>Goes over to what the wall clock says. For the thread that looks for steps.</summary>
    public void Follow()
    {
        if (Deviation.Duration() < Least)
            return;
        Volatile.Write(ref _anchor, NewAnchor());
        _seen = TimeSpan.Zero;
    }

    private Anchor NewAnchor()
    {
        var timestamp = _time.GetTimestamp();
        return new Anchor(_time.GetUtcNow(), timestamp);
    }

    private sealed record Anchor(DateTimeOffset At, long Timestamp);
}
