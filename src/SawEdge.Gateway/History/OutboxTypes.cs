namespace SawEdge.Gateway.History;

/// <summary>Where a consumer of the journal is, and what still waits for it.</summary>
/// <param name="Consumer">Its name.</param>
/// <param name="Cursor">The last entry of the journal that it is done with; 0 for a new one.</param>
/// <param name="MovedAt">When it was last done with something; null for a new one.</param>
public sealed record StoredOutbox(string Consumer, long Cursor, DateTimeOffset? MovedAt)
{
    /// <summary>Cycles that wait, new and corrected ones.</summary>
    public long Cycles { get; init; }

    /// <summary>Events of alarms that wait.</summary>
    public long AlarmEvents { get; init; }

    /// <summary>When the first of what waits was stored; null where nothing waits.</summary>
    public DateTimeOffset? OldestAt { get; init; }

    /// <summary>Hours of saws whose figures wait.</summary>
    public long Hours { get; init; }

    /// <summary>How much its server refused for good and is set aside.</summary>
    public long SetAside { get; init; }

    /// <summary>When the latest of that was refused; null where nothing is set aside.</summary>
    public DateTimeOffset? SetAsideAt { get; init; }
}
