namespace SawEdge.Gateway.History;

/// <summary>The table of downsampled signals.</summary>
/// <remarks>
/// Time comes first in the key. The samples of all saws end at the same moments, so each transaction only adds at the end of the tree: few
/// pages are written and all are filled, which a flash disk needs. The oldest lie at its begin, from where they are taken away in order, and
/// an export of several saws reads along it. What is asked of one saw alone reads past the others, which a period bounds.
/// </remarks>
internal static class SampleSchema
{
    /// <summary>The migration.</summary>
    public const string Sql = """
        -- What the signals of a saw did in an interval: at is its begin, every_ms its length, frames how many there were in it. One that is stored
        -- again holds all of its frames and takes the place of the other.
        CREATE TABLE signal_samples(
            at INTEGER NOT NULL,
            saw TEXT NOT NULL,
            every_ms INTEGER NOT NULL,
            frames INTEGER NOT NULL,
            data BLOB NOT NULL,
            PRIMARY KEY(at, saw, every_ms)
        ) STRICT, WITHOUT ROWID;
        """;
}
