namespace SawEdge.Evaluation.Population;

/// <summary>
/// The two sets of seeds, fixed here and nowhere else. They are disjoint, and every figure of a saw is drawn from a stream
/// that begins with its seed, so no saw, job, noise or fault of one set comes up in the other.
/// </summary>
internal sealed record SeedSet(string Name, ulong First)
{
    /// <summary>Seeds that may be looked at while the load score is being made better: 1, 2, 3 ...</summary>
    public static readonly SeedSet Tuning = new("tuning", 1);

    /// <summary>Seeds that the published table is computed from, and nothing else: 1,000,001, 1,000,002 ...</summary>
    public static readonly SeedSet Judging = new("judging", 1_000_001);

    /// <summary>The most seeds of a set: the sets cannot meet.</summary>
    public const int Most = 500_000;

    /// <summary>Its seeds, from the first on.</summary>
    public IEnumerable<ulong> Take(int count) => Enumerable.Range(0, count).Select(i => First + (ulong)i);
}
