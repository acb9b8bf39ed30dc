namespace SawEdge.Core.Oee;

/// <summary>Where a moment of planned busy time belongs: exactly one of these.</summary>
public enum OeeBucket : byte
{
    /// <summary>Cutting, as long as the standard says.</summary>
    CuttingAtStandard,

    /// <summary>Cutting beyond the standard, and all cutting that came to no part: aborted cuts.</summary>
    SlowCutting,

    /// <summary>The rest of the cycle, as long as the standard says.</summary>
    Handling,

    /// <summary>The rest of the cycle beyond the standard, and cycles without a cut.</summary>
    SlowHandling,

    /// <summary>Stops that nobody explained and that are short.</summary>
    ShortStops,

    /// <summary>Other stops.</summary>
    StopsByReason,

    /// <summary>Trim cuts, and stops to change blade, bar or job.</summary>
    Setup,

    /// <summary>Time at standard for parts that were not good.</summary>
    ScrapTime,

    /// <summary>The saw was not seen.</summary>
    Unknown,
}

/// <summary>The words for buckets and what is stated beside them outside the process.</summary>
public static class OeeBucketNames
{
    private static readonly string[] Names = ["cutting_at_standard", "slow_cutting", "handling", "slow_handling", "short_stops", "stops_by_reason", "setup", "scrap_time", "unknown"];
    private static readonly string[] BesideNames = ["gained", "scrap_gained", "without_standard", "lost", "delay", "down"];
    private static readonly string[] CountNames = ["parts", "scrap", "parts_outside", "uncertain", "without_standard", "trims", "lost"];

    /// <summary>The word for a bucket, snake case.</summary>
    public static string ToName(this OeeBucket bucket) => Names[(int)bucket];

    /// <summary>The word for a time stated beside, snake case.</summary>
    public static string ToName(this OeeBeside beside) => BesideNames[(int)beside];

    /// <summary>The word for a count, snake case.</summary>
    public static string ToName(this OeeCount count) => CountNames[(int)count];
}

/// <summary>What is stated beside the buckets; no time of its own.</summary>
public enum OeeBeside : byte
{
    /// <summary>Standard time of good parts beyond the time that they took: the standard is too loose.</summary>
    Gained,

    /// <summary>The same of parts that were not good.</summary>
    ScrapGained,

    /// <summary>Of the time at standard, that for which there is no standard: it counts as what it took.</summary>
    WithoutStandard,

    /// <summary>Of the slow time, that of aborted cuts and of cycles without a cut.</summary>
    Lost,

    /// <summary>Of the stops, those booked as delay (ADET).</summary>
    Delay,

    /// <summary>Of the stops, those booked as down (ADOT).</summary>
    Down,
}

/// <summary>What is counted.</summary>
public enum OeeCount : byte
{
    /// <summary>Parts whose cycle ended in planned busy time (PQ).</summary>
    Parts,

    /// <summary>Of these, those that were not good (SQ).</summary>
    Scrap,

    /// <summary>Parts whose cycle ended outside of planned busy time; not among <see cref="Parts"/>.</summary>
    PartsOutside,

    /// <summary>Cuts whose end was not seen: nobody knows whether they came to a part; not among <see cref="Parts"/>.</summary>
    Uncertain,

    /// <summary>Parts for which there is no standard cycle time, wholly or for the handling.</summary>
    WithoutStandard,

    /// <summary>Trim cuts.</summary>
    Trims,

    /// <summary>Cuts that were given up.</summary>
    Lost,
}

/// <summary>
/// Where the planned busy time of a period went. The buckets are never negative and sum to <see cref="PlannedBusyTime"/>, which
/// comes from the calendar. Sums of these are again such: roll-ups add them up and never average ratios.
/// </summary>
public sealed class OeeBuckets
{
    private readonly long[] _ticks = new long[Enum.GetValues<OeeBucket>().Length];
    private readonly long[] _beside = new long[Enum.GetValues<OeeBeside>().Length];
    private readonly long[] _counts = new long[Enum.GetValues<OeeCount>().Length];
    private readonly SortedDictionary<(StopClass Class, string Reason), long> _stops = new(StopOrder.Instance);

    /// <summary>Planned busy time, from the calendar (PBT).</summary>
    public TimeSpan PlannedBusyTime { get; internal set; }

    /// <summary>Time in one bucket.</summary>
    public TimeSpan this[OeeBucket bucket] => new(_ticks[(int)bucket]);

    /// <summary>A time that is stated beside.</summary>
    public TimeSpan this[OeeBeside beside] => new(_beside[(int)beside]);

    /// <summary>A count.</summary>
    public long this[OeeCount count] => _counts[(int)count];

    /// <summary>Sum of all buckets.</summary>
    public TimeSpan Sum => new(_ticks.Sum());

    /// <summary>The stops of <see cref="OeeBucket.StopsByReason"/> one by one, and those among the setup; the longest first.</summary>
    public IReadOnlyList<StopTime> Stops => [.. _stops.Select(stop => new StopTime(stop.Key.Class, stop.Key.Reason, new TimeSpan(stop.Value))).OrderByDescending(stop => stop.Time)];

    /// <summary>Actual production time (APT): executing, less setup.</summary>
    public TimeSpan ActualProductionTime =>
        this[OeeBucket.CuttingAtStandard] + this[OeeBucket.SlowCutting] + this[OeeBucket.Handling] + this[OeeBucket.SlowHandling] + this[OeeBucket.ScrapTime];

    /// <summary>Planned busy time in which the saw was seen.</summary>
    public TimeSpan Observed => PlannedBusyTime - this[OeeBucket.Unknown];

    /// <summary>Planned run time of the good parts (the sum of PRI * GQ).</summary>
    public TimeSpan GoodRunTime => this[OeeBucket.CuttingAtStandard] + this[OeeBucket.Handling] + this[OeeBeside.Gained];

    /// <summary>Planned run time of all parts (the sum of PRI * PQ).</summary>
    public TimeSpan PlannedRunTime => GoodRunTime + this[OeeBucket.ScrapTime] + this[OeeBeside.ScrapGained];

    /// <summary>Good parts (GQ).</summary>
    public long GoodParts => this[OeeCount.Parts] - this[OeeCount.Scrap];

    /// <summary>The figures of these buckets.</summary>
    public OeeFigures Figures => OeeFigures.Of(this);

    /// <summary>Buckets as they were before they were stored.</summary>
    /// <param name="planned">Planned busy time.</param>
    /// <param name="times">Time in each bucket, ticks, in the order of <see cref="OeeBucket"/>.</param>
    /// <param name="beside">The times stated beside, ticks, in the order of <see cref="OeeBeside"/>.</param>
    /// <param name="counts">The counts, in the order of <see cref="OeeCount"/>.</param>
    /// <param name="stops">The stops, as <see cref="Stops"/> told them.</param>
    /// <exception cref="ArgumentException">There are more or fewer of them than there are words.</exception>
    public static OeeBuckets Of(TimeSpan planned, ReadOnlySpan<long> times, ReadOnlySpan<long> beside, ReadOnlySpan<long> counts, IEnumerable<StopTime> stops)
    {
        var buckets = new OeeBuckets { PlannedBusyTime = planned };
        if (times.Length != buckets._ticks.Length || beside.Length != buckets._beside.Length || counts.Length != buckets._counts.Length)
            throw new ArgumentException("These are buckets of another version.", nameof(times));
        times.CopyTo(buckets._ticks);
        beside.CopyTo(buckets._beside);
        counts.CopyTo(buckets._counts);
        foreach (var stop in stops)
            buckets.AddReason(stop.Class, stop.Reason, stop.Time.Ticks);
        return buckets;
    }

    /// <summary>Adds up.</summary>
    public static OeeBuckets Total(IEnumerable<OeeBuckets> parts)
    {
        var total = new OeeBuckets();
        foreach (var part in parts)
        {
            total.PlannedBusyTime += part.PlannedBusyTime;
            Add(total._ticks, part._ticks);
            Add(total._beside, part._beside);
            Add(total._counts, part._counts);
            foreach (var (key, ticks) in part._stops)
                total.AddReason(key.Class, key.Reason, ticks);
        }

        return total;
    }

    internal void Add(OeeBucket bucket, long ticks) => _ticks[(int)bucket] += ticks;

    internal void Add(OeeBeside beside, long ticks) => _beside[(int)beside] += ticks;

    internal void Add(OeeCount count, long number) => _counts[(int)count] += number;

    internal void AddStop(StopClass stop, string reason, bool isShort, long ticks)
    {
        if (stop == StopClass.Setup)
            Add(OeeBucket.Setup, ticks);
        else
            Add(isShort ? OeeBucket.ShortStops : OeeBucket.StopsByReason, ticks);
        if (stop != StopClass.Setup)
            Add(stop == StopClass.Delay ? OeeBeside.Delay : OeeBeside.Down, ticks);
        if (!isShort)
            AddReason(stop, reason, ticks);
    }

    private static void Add(long[] to, long[] from)
    {
        for (var i = 0; i < to.Length; i++)
            to[i] += from[i];
    }

    private void AddReason(StopClass stop, string reason, long ticks) => _stops[(stop, reason)] = _stops.GetValueOrDefault((stop, reason)) + ticks;

    private sealed class StopOrder : IComparer<(StopClass Class, string Reason)>
    {
        public static StopOrder Instance { get; } = new();

        public int Compare((StopClass Class, string Reason) x, (StopClass Class, string Reason) y) =>
            x.Class != y.Class ? x.Class.CompareTo(y.Class) : string.CompareOrdinal(x.Reason, y.Reason);
    }
}
