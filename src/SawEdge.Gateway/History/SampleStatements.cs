using Microsoft.Data.Sqlite;

namespace SawEdge.Gateway.History;

/// <summary>The writer's commands for downsampled signals.</summary>
internal sealed class SampleStatements(Func<string, string[], SqliteCommand> prepare)
{
    private readonly SqliteCommand _store = prepare(
        "INSERT OR REPLACE INTO signal_samples(at, saw, every_ms, frames, data) VALUES(@at, @saw, @every_ms, @frames, @data)",
        ["@at", "@saw", "@every_ms", "@frames", "@data"]);

    // One bound, so that SQLite looks at no more rows than it deletes.
    private readonly SqliteCommand _delete = prepare(
        "DELETE FROM signal_samples WHERE at < min(@before, (SELECT max(at) + 1 FROM (SELECT at FROM signal_samples ORDER BY at LIMIT @most)))",
        ["@before", "@most"]);

    /// <summary>Stores a sample in place of one of the same interval.</summary>
    public void Store(in SawSample stored) =>
        WriteSession.Run(_store, stored.Sample.From.ToUnixTimeMilliseconds(), stored.Saw, (long)stored.Sample.Every.TotalMilliseconds, stored.Sample.Frames, SampleCodec.Encode(stored.Sample));

    /// <summary>Deletes the oldest samples.</summary>
    /// <param name="before">Only intervals that began before, ms since 1970.</param>
    /// <param name="most">About so many at most: those of one moment go together.</param>
    /// <returns>How many went.</returns>
    public int Delete(long before, int most) => WriteSession.Run(_delete, before, most);
}
