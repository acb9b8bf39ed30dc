using System.Globalization;
using Microsoft.Data.Sqlite;

namespace SawEdge.Torture.Trials;

/// <summary>Samples of the past, put into a history that nobody has open, so that the next start has something to clear away.</summary>
internal static class OldSamples
{
    /// <summary>How long the gateway keeps samples.</summary>
    public const string Keep = "2 h";

    /// <summary>Older than that: deleted whatever the budget.</summary>
    public static readonly TimeSpan PastKeep = TimeSpan.FromHours(5);

    /// <summary>Younger, and older than the hour that is left alone: deleted where room is needed.</summary>
    public static readonly TimeSpan PastBudgetOnly = TimeSpan.FromMinutes(110);

    private const string Saw = "saw-of-old";

    // What the saws add until the next filling, bytes, and samples that take more than that.
    private const int LeftForTheSaws = 5_000_000;
    private const int BudgetSamples = 80_000;

    /// <summary>Adds samples that look like one that is there.</summary>
    public static void Add(string history, int count, TimeSpan age)
    {
        using var connection = Open(history, SqliteOpenMode.ReadWrite);
        using var command = connection.CreateCommand();
        command.CommandText = string.Create(CultureInfo.InvariantCulture, $"""
            PRAGMA synchronous = OFF;
            WITH RECURSIVE n(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < {count - 1})
            INSERT OR REPLACE INTO signal_samples(at, saw, every_ms, frames, data)
            SELECT {(TimeProvider.System.GetUtcNow() - age).ToUnixTimeMilliseconds()} + i * 5, '{Saw}', 1000, one.frames, one.data FROM n, (SELECT frames, data FROM signal_samples WHERE saw <> '{Saw}' LIMIT 1) AS one;
            """);
        command.ExecuteNonQuery();
    }

    /// <summary>Makes a history almost as large as its budget with something that never goes, and adds samples that have to.</summary>
    /// <param name="history">The history.</param>
    /// <param name="budget">What it may take, bytes.</param>
    public static void Fill(string history, int budget)
    {
        using (var connection = Open(history, SqliteOpenMode.ReadWrite))
        using (var command = connection.CreateCommand())
        {
            // As much as what is there leaves: a history that holds more than its budget of what never goes says so, and rightly.
            command.CommandText = string.Create(CultureInfo.InvariantCulture, $"""
                CREATE TABLE IF NOT EXISTS torture_filler(id INTEGER PRIMARY KEY, data BLOB);
                DELETE FROM torture_filler;
                INSERT INTO torture_filler SELECT 1, zeroblob({budget - LeftForTheSaws} - (page_count - freelist_count) * page_size) FROM pragma_page_count, pragma_freelist_count, pragma_page_size;
                """);
            command.ExecuteNonQuery();
        }

        Add(history, BudgetSamples, PastBudgetOnly);
    }

    /// <summary>Begin of the oldest sample; 0 where there is none.</summary>
    public static long Oldest(string history)
    {
        using var connection = Open(history, SqliteOpenMode.ReadOnly);
        using var command = connection.CreateCommand();
        command.CommandText = "SELECT ifnull(min(at), 0) FROM signal_samples";
        return (long)command.ExecuteScalar()!;
    }

    private static SqliteConnection Open(string history, SqliteOpenMode mode)
    {
        var connection = new SqliteConnection(new SqliteConnectionStringBuilder { DataSource = history, Mode = mode, Pooling = false, DefaultTimeout = 20 }.ToString());
        connection.Open();
        return connection;
    }
}
