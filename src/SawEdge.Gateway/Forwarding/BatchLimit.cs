namespace SawEdge.Gateway.Forwarding;

/// <summary>
/// How many points go into one request: as configured, less after the server called a request too large, and slowly
/// more again, since the limit is one of bytes and points differ. Pure.
/// </summary>
/// <param name="most">The configured size.</param>
internal sealed class BatchLimit(int most)
{
    /// <summary>Full batches in a row that must be taken before twice as many points are tried.</summary>
    public const int TakenBeforeGrowth = 16;

    private int _taken;

    /// <summary>The configured size.</summary>
    public int Most => most;

    /// <summary>The size now.</summary>
    public int Current { get; private set; } = Math.Max(1, most);

    /// <summary>
    /// A batch had to be cut up because requests were called too large. Not the smallest part that was called so sets
    /// the size, but the largest that was taken: a single huge point must not make every batch tiny.
    /// </summary>
    /// <param name="taken">Points of the largest part that was taken; 0 where none was.</param>
    public void TooLarge(int taken)
    {
        _taken = 0;
        Current = Math.Clamp(taken, 1, Current);
    }

    /// <summary>A request of so many points was taken.</summary>
    public void Taken(int points)
    {
        if (Current >= most || points < Current || ++_taken < TakenBeforeGrowth)
            return;
        _taken = 0;
        Current = (int)Math.Min(most, 2L * Current);
    }
}
