namespace SawEdge.Gateway.Acquisition.Modbus;

/// <summary>
/// When one saw is due: at whole multiples of its interval from the start, whatever the polls take, so that the schedule does
/// not drift. A slot can be served until the next one comes; then it is missed and counted. Nothing piles up. Pure.
/// </summary>
internal sealed class PollSchedule
{
    private readonly TimeSpan _interval;
    private TimeSpan _afterLatest;

    /// <summary>Starts with a slot that is due at once.</summary>
    /// <param name="interval">Time between slots, more than zero.</param>
    /// <param name="first">When that is, since the start.</param>
    public PollSchedule(TimeSpan interval, TimeSpan first = default)
    {
        ArgumentOutOfRangeException.ThrowIfLessThanOrEqual(interval, TimeSpan.Zero);
        _interval = interval;
        Due = first;
    }

    /// <summary>When the present slot is due, since the start.</summary>
    public TimeSpan Due { get; private set; }

    /// <summary>Goes on to the next slot after a poll.</summary>
    /// <param name="now">Now, since the start.</param>
    /// <param name="pause">How long to leave the saw alone at least.</param>
    /// <returns>Slots that were missed.</returns>
    public long Advance(TimeSpan now, TimeSpan pause = default)
    {
        var next = (Due + _interval).Ticks;
        var interval = _interval.Ticks;
        var missed = pause > TimeSpan.Zero
            ? ((now + pause).Ticks - next + interval - 1) / interval
            : (now.Ticks - next) / interval;
        missed = Math.Max(0, missed);
        _afterLatest = TimeSpan.FromTicks(next);
        Due = TimeSpan.FromTicks(next + (missed * interval));
        return missed;
    }

    /// <summary>Ends a pause early: the latest slot that has come is due, or the first that was not served yet.</summary>
    /// <param name="now">Now, since the start.</param>
    /// <returns>Slots that count as missed and are to be served after all.</returns>
    public long Recall(TimeSpan now)
    {
        var latest = now > _afterLatest ? now : _afterLatest;
        var early = Math.Max(0, (Due.Ticks - latest.Ticks + _interval.Ticks - 1) / _interval.Ticks);
        Due -= early * _interval;
        return early;
    }
}
