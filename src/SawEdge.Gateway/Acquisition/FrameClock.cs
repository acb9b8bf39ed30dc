namespace SawEdge.Gateway.Acquisition;

/// <summary>
/// The time of frames: the wall clock as it was at one moment, carried on by the monotonic clock. A wall clock that is set
/// while the gateway runs therefore bends no duration: the times of two frames differ by exactly what passed between them.
/// </summary>
public sealed class FrameClock
{
    private readonly TimeProvider _time;
    private readonly DateTimeOffset _anchor;
    private readonly long _anchorTimestamp;

    /// <summary>Anchors the clock at the present moment.</summary>
    public FrameClock(TimeProvider time)
    {
        _time = time;
        _anchorTimestamp = time.GetTimestamp();
        _anchor = time.GetUtcNow();
    }

    /// <summary>The present moment, UTC.</summary>
    public DateTimeOffset Now => At(_time.GetTimestamp());

    /// <summary>The wall clock less this clock: what re-anchoring would add.</summary>
    public TimeSpan Deviation => _time.GetUtcNow() - Now;

    /// <summary>The moment of a timestamp of the same time provider, UTC.</summary>
    public DateTimeOffset At(long timestamp) => _anchor + _time.GetElapsedTime(_anchorTimestamp, timestamp);
}
