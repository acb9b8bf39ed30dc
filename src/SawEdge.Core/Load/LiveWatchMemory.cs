namespace SawEdge.Core.Load;

/// <summary>What the live watch has learned between cycles: all that a restart must not forget.</summary>
public sealed record LiveWatchMemory
{
    /// <summary>Whether the load was ever seen to scatter more finely than it is rounded: then one that stands still is frozen.</summary>
    public bool LoadScatters { get; init; }

    /// <summary>Jobs whose section is not known, the latest last.</summary>
    public IReadOnlyList<JobLoad> Jobs { get; init; } = [];
}

/// <summary>How the load ran in whole cuts of a job whose section is not known.</summary>
/// <param name="JobId">The job as the controller names it.</param>
/// <param name="Cuts">Whole cuts seen, up to a few.</param>
/// <param name="LowestShare">Lowest load above idle inside the stock, as a share of what it was 1 to 3 s before.</param>
public sealed record JobLoad(string JobId, int Cuts, double LowestShare);
