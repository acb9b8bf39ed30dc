namespace SawEdge.Gateway.History;

/// <summary>What the points of profiles, signals and the gateway's health need besides the rows that they are made of.</summary>
internal static class PointSchema
{
    /// <summary>The migration.</summary>
    public const string Sql = """
        -- The number of a sample among those that destinations are to be sent: rises with each that is new or stored again. NULL: none asked for samples
        -- when it was stored.
        ALTER TABLE signal_samples ADD COLUMN seq INTEGER;
        CREATE UNIQUE INDEX signal_samples_by_seq ON signal_samples(seq) WHERE seq IS NOT NULL;

        -- How the gateway itself was, JSON. AUTOINCREMENT: destinations remember where they are by the number alone.
        CREATE TABLE health_reports(
            seq INTEGER PRIMARY KEY AUTOINCREMENT,
            at INTEGER NOT NULL,
            data TEXT NOT NULL
        ) STRICT;
        CREATE INDEX health_reports_by_time ON health_reports(at);

        -- Reasons of stops that have a tag value of their own.
        CREATE TABLE stop_names(
            name TEXT PRIMARY KEY
        ) STRICT, WITHOUT ROWID;

        -- What was cleared away before a destination had it: how much in all, when the last of it was noticed, and up to which place of the consumer.
        CREATE TABLE gone(
            consumer TEXT PRIMARY KEY,
            count INTEGER NOT NULL,
            at INTEGER NOT NULL,
            seq INTEGER NOT NULL
        ) STRICT, WITHOUT ROWID;
        """;
}
