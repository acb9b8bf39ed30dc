namespace SawEdge.Gateway.Acquisition.Modbus;

/// <summary>Tells when a saw cannot be polled as often as it should be, and when it can again; a single hitch does not count. Pure.</summary>
internal sealed class Lag
{
    // A late poll counts twice, one in time takes one back: five late ones in a row, or more than a third of them for a while.
    private const int LatePoll = 2;
    private const int ToBegin = 5 * LatePoll;
    private const int PollsToEnd = 50;
    private int _late;
    private int _inTime;

    /// <summary>What a poll changed.</summary>
    public enum Change
    {
        /// <summary>Nothing.</summary>
        None,

        /// <summary>The interval is no longer held.</summary>
        Begins,

        /// <summary>The interval is held again.</summary>
        Ends,
    }

    /// <summary>Whether the interval is not held.</summary>
    public bool IsBehind { get; private set; }

    /// <summary>Slots missed since it began.</summary>
    public long Missed { get; private set; }

    /// <summary>Takes in how many slots a poll made missed.</summary>
    public Change Observe(long missed)
    {
        Missed = missed > 0 ? Missed + missed : Missed;
        _late = missed > 0 ? Math.Min(_late + LatePoll, ToBegin) : Math.Max(_late - 1, 0);
        _inTime = missed > 0 ? 0 : _inTime + 1;
        if (!IsBehind && _late >= ToBegin)
        {
            IsBehind = true;
            return Change.Begins;
        }

        if (IsBehind && _inTime >= PollsToEnd)
        {
            IsBehind = false;
            _late = 0;
            return Change.Ends;
        }

        if (!IsBehind && _late == 0)
            Missed = 0;
        return Change.None;
    }
}
