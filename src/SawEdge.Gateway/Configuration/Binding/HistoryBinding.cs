using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>Declares what the history may take on the disk.</summary>
internal static class HistoryBinding
{
    private const double Megabyte = 1_000_000;

    /// <summary>The settings.</summary>
    public static ObjectType<HistoryOptions> Type { get; } = new("history", "What the history may take on the disk. Nothing has to be set.", o =>
    {
        var budget = o.Default("budget", new QuantityType<double>(QuantityKind.DiskSpace, "50 MB", "1000 TB", megabytes => megabytes), "20 GB", "Most that its file may take. When it is full the oldest signals go before their time, then the depth profiles of old cuts, with what the load score says along them and what their records could be computed anew from; records of cycles, what saws did and alarms never go.");
        var keep = o.OptionalValue("keepProfiles", ValueTypes.Time("7 d", "36600 d"), "How long the depth profile of a cut is kept, with what the load score says along it and what its record could be computed anew from; of each saw at least those of the last 500 cuts. Left out: as long as there is room.");
        return new HistoryOptions { BudgetBytes = (long)(budget.Value * Megabyte), KeepProfiles = keep.Value };
    });
}
