using SawEdge.Core.Cycles;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats.Tables;

namespace SawEdge.Gateway.Export;

/// <summary>What is to be exported. A filter that a table does not know is an error where it is asked for, see <see cref="ExportTable.Filters"/>.</summary>
public sealed record ExportQuestion
{
    /// <summary>The table.</summary>
    public required ExportTable Table { get; init; }

    /// <summary>From this moment on (cycles and profiles by their start, alarms by when they were raised, signals by the begin of their interval; states that reach into the period); null: from the beginning.</summary>
    public DateTimeOffset? From { get; init; }

    /// <summary>Before this moment; null: to the end.</summary>
    public DateTimeOffset? To { get; init; }

    /// <summary>Only these saws; null: all.</summary>
    public IReadOnlyList<string>? Saws { get; init; }

    /// <summary>Only these jobs; null: all.</summary>
    public IReadOnlyList<string>? Jobs { get; init; }

    /// <summary>Only these materials; null: all.</summary>
    public IReadOnlyList<string>? Materials { get; init; }

    /// <summary>Only these blades; null: all.</summary>
    public IReadOnlyList<string>? Blades { get; init; }

    /// <summary>Only these outcomes; null: all.</summary>
    public IReadOnlyList<CutOutcome>? Outcomes { get; init; }

    /// <summary>Only cycles with this load score or a greater one; null: all.</summary>
    public double? LeastScore { get; init; }

    /// <summary>Only cycles with this load score or a smaller one; null: all.</summary>
    public double? GreatestScore { get; init; }

    /// <summary>Only these cycles, by their identities; null: all. State a period too: by that they are found.</summary>
    public IReadOnlyList<string>? CycleIds { get; init; }

    /// <summary>The columns in the order in which they are wanted, by their metric names; null: all.</summary>
    public IReadOnlyList<string>? Columns { get; init; }

    /// <summary>Units of the values and of the columns' names.</summary>
    public DisplayUnits Units { get; init; } = DisplayUnits.Metric;
}

/// <summary>What of a table can be asked for besides a period.</summary>
[Flags]
public enum ExportFilters
{
    /// <summary>Nothing.</summary>
    None = 0,

    /// <summary>Saws.</summary>
    Saws = 1,

    /// <summary>Jobs.</summary>
    Jobs = 2,

    /// <summary>Materials.</summary>
    Materials = 4,

    /// <summary>Blades.</summary>
    Blades = 8,

    /// <summary>Outcomes.</summary>
    Outcomes = 16,

    /// <summary>Load scores.</summary>
    Scores = 32,

    /// <summary>Everything that a cycle has.</summary>
    Cycle = Saws | Jobs | Materials | Blades | Outcomes | Scores,
}

/// <summary>A table that can be exported.</summary>
/// <param name="Name">Its name, a word: <c>cycles</c>.</param>
/// <param name="Meaning">What a row is, a sentence.</param>
/// <param name="Order">In which order the rows come, a sentence.</param>
/// <param name="Filters">What can be asked for besides a period.</param>
/// <param name="Columns">All its columns, metric, in order.</param>
public sealed record ExportTable(string Name, string Meaning, string Order, ExportFilters Filters, IReadOnlyList<TableColumn> Columns);
