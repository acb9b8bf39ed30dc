using SawEdge.Core;
using SawEdge.Gateway.Formats.Tables;

namespace SawEdge.Gateway.Export;

/// <summary>All tables that can be exported.</summary>
public static partial class ExportTables
{
    /// <summary>Finished cycles.</summary>
    public static ExportTable Cycles { get; } = new(
        "cycles",
        "One finished cycle of a saw, as it is known now: a correction changes its row.",
        "by started_at, then saw, then cycle_id",
        ExportFilters.Cycle,
        [.. CycleColumns.All.Select(column => new TableColumn(column.Name, column.Type, column.Unit, column.Meaning, column.EmptyWhen))]);

    /// <summary>All of them, in the order in which they are told.</summary>
    public static IReadOnlyList<ExportTable> All => [Cycles, Profiles, States, Alarms, Signals];

    /// <summary>A table by name; null where there is none.</summary>
    public static ExportTable? Find(string name) => All.FirstOrDefault(table => table.Name == name);
}
