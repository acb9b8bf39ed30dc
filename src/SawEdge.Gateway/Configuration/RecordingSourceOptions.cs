using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Configuration;

/// <summary>A saw whose signals stand in recordings of other loggers, under their names and in their units: for replay only.</summary>
public sealed record RecordingSourceOptions : SourceOptions
{
    /// <summary>Column of the time.</summary>
    public required string TimeColumn { get; init; }

    /// <summary>Column of the date, where it stands apart from the time; or null.</summary>
    public string? DateColumn { get; init; }

    /// <summary>Format of the time, as .NET writes it (with a date column: date, a blank, time); null: RFC 3339 or a number counted from 1970.</summary>
    public string? TimeFormat { get; init; }

    /// <summary>Time zone of times that name none, or null: the plant's.</summary>
    public TimeZoneInfo? TimeZone { get; init; }

    /// <summary>What stands between two columns.</summary>
    public char Separator { get; init; } = ',';

    /// <summary>What stands before the decimals of a number: <c>.</c> or <c>,</c>.</summary>
    public char Decimal { get; init; } = '.';

    /// <summary>Line in which the columns are named, from 1.</summary>
    public int HeaderLine { get; init; } = 1;

    /// <summary>Lines below the header that hold no values, for example units.</summary>
    public int SkipRows { get; init; }

    /// <summary>Column that tells which saw a row is about, or null: each file is about one saw.</summary>
    public string? SawColumn { get; init; }

    /// <summary>What stands there for this saw, or null: its name.</summary>
    public string? SawValue { get; init; }

    /// <summary>What stands in which column; a signal at most once.</summary>
    public required IReadOnlyList<ColumnMapping> Signals { get; init; }
}

/// <summary>One signal's column.</summary>
public sealed record ColumnMapping : ValueMapping
{
    /// <summary>Name of the column.</summary>
    public required string Column { get; init; }
}
