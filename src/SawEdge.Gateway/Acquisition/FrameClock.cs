namespace SawEdge.Gateway.Acquisition;

/// <summary>
/// The time of frames as their source gives it: the wall clock as it was at one moment, carried on by the monotonic clock. A wall clock that is
/// set bends no duration: the times of two frames differ by exactly what passed between them. For several threads.
/// </summary>
public sealed class FrameClock
{
    /// <summary>Less than that is no step, and in all it does no harm.</summary>
    public static readonly TimeSpan Least = TimeSpan.FromSeconds(1);

    private readonly TimeProvider _time;
    private Anchor _anchor;

    /// <summary>Anchors the clock at the present moment.</summary>
    /// <param name="time">The machine's clock.</param>
    /// <param name="boot">Tells from when the timestamps of the machine's clock count, the same for all processes since the machine was switched on; null: not known.</param>
    public FrameClock(TimeProvider time, string? boot = null)
    {
        _time = time;
        Boot = boot;
        _anchor = NewAnchor();
    }

    /// <summary>Tells from when timestamps count: where it is the same for another process, theirs are of the same clock. Null: not known.</summary>
    public string? Boot { get; }

    /// <summary>The present moment, UTC.</summary>
    public DateTimeOffset Now => At(_time.GetTimestamp());

    /// <summary>The wall clock less this clock.</summary>
    public TimeSpan Deviation
    {
        get
        {
            var (wall, at) = BothClocks.Read(_time);
            return wall - At(at);
        }
    }

    /// <summary>The moment of a timestamp of the same time provider, UTC.</summary>
    public DateTimeOffset At(long timestamp)
    {
        var anchor = Volatile.Read(ref _anchor);
        return anchor.At + _time.GetElapsedTime(anchor.Timestamp, timestamp);
    }

    /// <summary>Goes over to what the wall clock says. Not for a clock that gives a saw's frames their time: over those the saw's loop decides.</summary>
    public void Follow()
    {
        if (Deviation.Duration() >= Least)
            Volatile.Write(ref _anchor, NewAnchor());
    }

    private Anchor NewAnchor()
    {
        var (wall, at) = BothClocks.Read(_time);
        return new Anchor(wall, at);
    }

    private sealed record Anchor(DateTimeOffset At, long Timestamp);
}
