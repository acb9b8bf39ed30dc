namespace SawEdge.Gateway.Acquisition;

/// <summary>Wall clock and monotonic clock of one moment: a thread that is held up between the two readings must not see a clock that was set.</summary>
internal static class BothClocks
{
    private const int MostTries = 5;

    private static readonly TimeSpan OneMoment = TimeSpan.FromMilliseconds(50);

    /// <summary>Reads both, again where it took long; after a few tries as they came.</summary>
    public static (DateTimeOffset Wall, long Timestamp) Read(TimeProvider time)
    {
        for (var tries = 1; ; tries++)
        {
            var before = time.GetTimestamp();
            var wall = time.GetUtcNow();
            if (tries == MostTries || time.GetElapsedTime(before) < OneMoment)
                return (wall, before);
        }
    }
}
