namespace SawEdge.Gateway.Configuration;

/// <summary>How much the history may take on the disk, and how long it keeps what may go.</summary>
public sealed record HistoryOptions
{
    /// <summary>Most that the history's file may take, bytes.</summary>
    /// <value>20 GB</value>
    public long BudgetBytes { get; init; } = 20_000_000_000;

    /// <summary>How long depth profiles are kept, with what the load score says along them and what records are computed anew from; null: as long as there is room.</summary>
    public TimeSpan? KeepProfiles { get; init; }
}
