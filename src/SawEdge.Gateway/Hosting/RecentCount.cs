namespace SawEdge.Gateway.Hosting;

/// <summary>By how much a counter rose lately.</summary>
/// <param name="window">How far back.</param>
/// <param name="time">The clock.</param>
internal sealed class RecentCount(TimeSpan window, TimeProvider time)
{
    private readonly Queue<(long At, long Total)> _before = new();
    private long _last;

    /// <summary>Looks at the counter.</summary>
    /// <param name="total">What it shows; began at 0 with this object.</param>
    /// <returns>By how much it rose within the window.</returns>
    public long Push(long total)
    {
        var now = time.GetTimestamp();
        if (total != _last)
            _before.Enqueue((now, _last));
        _last = total;
        while (_before.TryPeek(out var oldest) && time.GetElapsedTime(oldest.At, now) >= window)
            _before.Dequeue();
        return _before.TryPeek(out var begin) ? total - begin.Total : 0;
    }
}
