namespace SawEdge.Gateway.Forwarding;

/// <summary>What a lane delivers next.</summary>
/// <param name="lines">The points; none where there was nothing to make points of up to <paramref name="end"/>.</param>
/// <param name="end">The place that the lane has reached when all of them are settled.</param>
/// <param name="describe">What a point is, in words for people, by its number in the batch.</param>
internal class LaneBatch(LineBatch lines, long end, Func<int, string> describe)
{
    /// <summary>The points.</summary>
    public LineBatch Lines { get; } = lines;

    /// <summary>The place that the lane has reached when all of them are settled.</summary>
    public long End { get; } = end;

    /// <summary>Whether more waits behind it for sure, so that it is worth reading on at once.</summary>
    public bool HasMore { get; init; }

    /// <summary>What a point is, in words for people.</summary>
    public string Describe(int index) => describe(index);
}
