namespace SawEdge.Gateway.Acquisition.Mqtt;

/// <summary>What the time of a frame means beside those before.</summary>
internal enum FrameTurn : byte
{
    /// <summary>It follows.</summary>
    Follows,

    /// <summary>It is not later than the last one: a repetition, or far too late.</summary>
    Behind,

    /// <summary>The clock that it comes from was set back, and this is the first frame that counts again.</summary>
    SetBack,
}

/// <summary>
/// Decides which frames of a saw count, by their own times: each must be later than the last. A clock that was set back shows in
/// frames that rise among themselves for a while with none between them that is later than the last; messages that a broker
/// delivers again, or that a publisher had held back, come in a rush or between those of the present.
/// </summary>
/// <param name="time">Tells how long a while is.</param>
internal sealed class FrameTimes(TimeProvider time)
{
    /// <summary>How long frames must rise among themselves before a clock is taken to have been set back.</summary>
    public static readonly TimeSpan Proof = TimeSpan.FromSeconds(2);

    private const int LeastFrames = 3;

    private DateTimeOffset _behind;
    private long _behindSince;
    private int _behindFrames;

    /// <summary>Time of the last frame that counted.</summary>
    public DateTimeOffset Last { get; set; } = DateTimeOffset.MinValue;

    /// <summary>Judges a frame. Whoever takes it makes it <see cref="Last"/>.</summary>
    /// <param name="frame">Its time.</param>
    /// <param name="arrival">When it came.</param>
    public FrameTurn Judge(DateTimeOffset frame, long arrival)
    {
        if (frame > Last)
        {
            _behindFrames = 0;
            return FrameTurn.Follows;
        }

        if (_behindFrames == 0 || frame <= _behind)
        {
            _behindSince = arrival;
            _behindFrames = 0;
        }

        _behind = frame;
        _behindFrames++;
        if (_behindFrames < LeastFrames || time.GetElapsedTime(_behindSince, arrival) < Proof)
            return FrameTurn.Behind;
        _behindFrames = 0;
        return FrameTurn.SetBack;
    }
}
