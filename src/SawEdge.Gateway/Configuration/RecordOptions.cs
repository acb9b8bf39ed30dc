namespace SawEdge.Gateway.Configuration;

/// <summary>Where every frame is recorded as it comes, and how much of that is kept.</summary>
public sealed record RecordOptions
{
    /// <summary>Folder of the recordings, full path.</summary>
    public required string Folder { get; init; }

    /// <summary>Size at which a file is ended and the next one begun, bytes.</summary>
    /// <value>256 MB</value>
    public long RollBytes { get; init; } = 256_000_000;

    /// <summary>
    /// Time at whose multiples, counted in UTC, a file is ended and the next one begun: with a day at midnight UTC, with an hour on the hour.
    /// UTC like the names of the files and the times in them, so that no day has 23 or 25 hours.
    /// </summary>
    /// <value>1 day</value>
    public TimeSpan RollAfter { get; init; } = TimeSpan.FromDays(1);

    /// <summary>Most that all recordings of the folder may take, bytes; the oldest are removed to keep to it.</summary>
    /// <value>10 GB</value>
    public long KeepBytes { get; init; } = 10_000_000_000;

    /// <summary>Whether a file that is ended is compressed.</summary>
    public bool Compresses { get; init; } = true;
}
