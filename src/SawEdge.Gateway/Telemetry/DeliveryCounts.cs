namespace SawEdge.Gateway.Telemetry;

/// <summary>What came of the tries to bring something to one receiver. Safe for any number of threads.</summary>
public sealed class DeliveryCounts
{
    private long _tries;
    private long _failures;
    private long _points;

    /// <summary>Requests sent.</summary>
    public long Tries => Interlocked.Read(ref _tries);

    /// <summary>Requests that were not taken.</summary>
    public long Failures => Interlocked.Read(ref _failures);

    /// <summary>Points taken.</summary>
    public long Points => Interlocked.Read(ref _points);

    /// <summary>A request came to an end.</summary>
    /// <param name="taken">Whether the receiver said yes.</param>
    public void Tried(bool taken)
    {
        Interlocked.Increment(ref _tries);
        if (!taken)
            Interlocked.Increment(ref _failures);
    }

    /// <summary>Points were taken.</summary>
    public void Took(int points) => Interlocked.Add(ref _points, points);
}
