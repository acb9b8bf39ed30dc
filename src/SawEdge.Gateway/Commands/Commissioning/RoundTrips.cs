namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>How long answers take: the median of the last 512, and the longest since the start.</summary>
internal sealed class RoundTrips
{
    private readonly TimeSpan[] _last = new TimeSpan[512];
    private long _count;

    /// <summary>The longest since the start.</summary>
    public TimeSpan Greatest { get; private set; }

    /// <summary>The median of the last 512; zero where there was none.</summary>
    public TimeSpan Median
    {
        get
        {
            var some = _last[..(int)Math.Min(_count, _last.Length)];
            Array.Sort(some);
            return some.Length == 0 ? TimeSpan.Zero : some[some.Length / 2];
        }
    }

    /// <summary>Takes one.</summary>
    public void Add(TimeSpan roundTrip)
    {
        _last[_count++ % _last.Length] = roundTrip;
        if (roundTrip > Greatest)
            Greatest = roundTrip;
    }
}
