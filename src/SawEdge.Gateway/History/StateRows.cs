using Microsoft.Data.Sqlite;
using SawEdge.Core.Oee;

namespace SawEdge.Gateway.History;

/// <summary>Segments of what a saw did, as rows. Their times are rounded as those of cycles are, so that both go on meeting.</summary>
internal static class StateRows
{
    /// <summary>Stores a segment in place of one with the same begin.</summary>
    public const string Upsert = "INSERT OR REPLACE INTO states(saw, started_at, ended_at, state, reason, job) VALUES(@saw, @started_at, @ended_at, @state, @reason, @job)";

    /// <summary>The columns of a segment.</summary>
    public const string Select = "started_at, ended_at, state, reason, job";

    /// <summary>A time as it is stored, ms since 1970, halves up.</summary>
    public static long Milliseconds(DateTimeOffset time) => time.AddTicks(TimeSpan.TicksPerMillisecond / 2).ToUnixTimeMilliseconds();

    /// <summary>A text as it is stored.</summary>
    public static object TextOrNull(string text) => text.Length == 0 ? DBNull.Value : text;

    /// <summary>Reads a segment.</summary>
    public static StateSegment Read(SqliteDataReader row) => new(
        DateTimeOffset.FromUnixTimeMilliseconds(row.GetInt64(0)),
        DateTimeOffset.FromUnixTimeMilliseconds(row.GetInt64(1)),
        TimelineStateNames.Parse(row.GetString(2)),
        row.IsDBNull(3) ? "" : row.GetString(3),
        row.IsDBNull(4) ? "" : row.GetString(4));
}
