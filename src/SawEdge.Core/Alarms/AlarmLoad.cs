namespace SawEdge.Core.Alarms;

/// <summary>How many alarms came when, over a period.</summary>
/// <param name="times">When they were announced, in order, all within the period.</param>
/// <param name="from">Begin of the period.</param>
/// <param name="to">Its end.</param>
internal sealed class AlarmLoad(IReadOnlyList<DateTimeOffset> times, DateTimeOffset from, DateTimeOffset to)
{
    private static readonly TimeSpan TenMinutes = TimeSpan.FromMinutes(10);

    /// <summary>All alarms.</summary>
    public int Count => times.Count;

    /// <summary>Alarms in a span of time on average.</summary>
    public double Per(TimeSpan span) => times.Count * (span / (to - from));

    /// <summary>The most in any ten minutes.</summary>
    public int WorstTenMinutes { get; } = times.Select((_, i) => LateIn(times, i)).DefaultIfEmpty().Max();

    /// <summary>Share of spans, counted from the begin, in which there were more than so many; the last may be shorter.</summary>
    public double ShareOfSpansAbove(TimeSpan span, int many)
    {
        var spans = (long)Math.Ceiling((to - from) / span);
        return (double)times.GroupBy(time => (long)((time - from) / span)).Count(same => same.Count() > many) / spans;
    }

    /// <summary>Share of the period in flood: from the alarm that is one too many within ten minutes until few lie within the last ten minutes.</summary>
    public double ShareInFlood()
    {
        var inFlood = TimeSpan.Zero;
        var window = new Queue<DateTimeOffset>();
        DateTimeOffset? since = null;
        void Pass(DateTimeOffset until)
        {
            while (window.TryPeek(out var oldest) && oldest + TenMinutes <= until)
            {
                window.Dequeue();
                if (since is { } begin && window.Count < AlarmBenchmarks.FloodUntil)
                {
                    inFlood += oldest + TenMinutes - begin;
                    since = null;
                }
            }
        }

        foreach (var time in times)
        {
            Pass(time);
            window.Enqueue(time);
            if (window.Count > AlarmBenchmarks.FloodFrom)
                since ??= time;
        }

        Pass(to);
        if (since is { } last)
            inFlood += to - last;
        return inFlood / (to - from);
    }

    // Those within the ten minutes that end with one of them.
    private static int LateIn(IReadOnlyList<DateTimeOffset> times, int last)
    {
        var count = 1;
        while (last - count >= 0 && times[last] - times[last - count] < TenMinutes)
            count++;
        return count;
    }
}
