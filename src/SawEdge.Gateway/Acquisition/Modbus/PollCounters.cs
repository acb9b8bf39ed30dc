namespace SawEdge.Gateway.Acquisition.Modbus;

/// <summary>What polling one saw came to so far. May be read while it is counted.</summary>
public sealed class PollCounters
{
    private long _polls;
    private long _misses;
    private long _errors;
    private long _late;

    /// <summary>Polls made.</summary>
    public long Polls => Interlocked.Read(ref _polls);

    /// <summary>Polls that were due and not made: the device was too slow, away, or left alone because it did not answer.</summary>
    public long Misses => Interlocked.Read(ref _misses);

    /// <summary>Requests that brought no values: exception answers, timeouts, broken frames, lost connections.</summary>
    public long Errors => Interlocked.Read(ref _errors);

    /// <summary>By how much polls began later than they were due, all added up.</summary>
    public TimeSpan Lateness => TimeSpan.FromTicks(Interlocked.Read(ref _late));

    internal void CountLateness(TimeSpan late) => Interlocked.Add(ref _late, Math.Max(0, late.Ticks));

    internal void CountPoll() => Interlocked.Increment(ref _polls);

    internal void CountError() => Interlocked.Increment(ref _errors);

    internal void CountMisses(long misses) => Interlocked.Add(ref _misses, misses);
}
