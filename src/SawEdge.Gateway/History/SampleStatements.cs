using Microsoft.Data.Sqlite;

namespace SawEdge.Gateway.History;

/// <summary>The writer's commands for downsampled signals.</summary>
internal sealed class SampleStatements(Func<string, string[], SqliteCommand> prepare)
{
    private readonly SqliteCommand _store = prepare(
        "INSERT OR REPLACE INTO signal_samples(at, saw, every_ms, frames, data) VALUES(@at, @saw, @every_ms, @frames, @data)",
        ["@at", "@saw", "@every_ms", "@frames", "@data"]);

    // Greater than any that a destination is done with, even where all samples were cleared away since.

    /// <summary>SQL: the number of the next sample that destinations are to be sent.</summary>
    public const string Next = $"(1 + max(ifnull((SELECT max(seq) FROM signal_samples WHERE seq IS NOT NULL), 0), ifnull((SELECT max(seq) FROM cursors WHERE consumer LIKE '%{Lanes.Signals}'), 0)))";

    private readonly SqliteCommand _storeNumbered = prepare(
        $"INSERT OR REPLACE INTO signal_samples(at, saw, every_ms, frames, data, seq) VALUES(@at, @saw, @every_ms, @frames, @data, {Next})",
        ["@at", "@saw", "@every_ms", "@frames", "@data"]);

    private readonly SqliteCommand _bound = prepare("SELECT min(@before, ifnull((SELECT max(at) + 1 FROM (SELECT at FROM signal_samples ORDER BY at LIMIT @most)), @before))", ["@before", "@most"]);

    // One bound, so that SQLite looks at no more rows than it deletes.
    private readonly SqliteCommand _delete = prepare("DELETE FROM signal_samples WHERE at < @bound AND ifnull(seq, 0) <= @delivered", ["@bound", "@delivered"]);
    private readonly SqliteCommand _undelivered = prepare("SELECT count(*) FROM signal_samples WHERE at < @bound AND seq > @delivered", ["@bound", "@delivered"]);

    /// <summary>Stores a sample in place of one of the same interval.</summary>
    /// <param name="stored">The sample.</param>
    /// <param name="isWanted">Whether a destination is to be sent it.</param>
    public void Store(in SawSample stored, bool isWanted) =>
        WriteSession.Run(isWanted ? _storeNumbered : _store, stored.Sample.From.ToUnixTimeMilliseconds(), stored.Saw, (long)stored.Sample.Every.TotalMilliseconds, stored.Sample.Frames, SampleCodec.Encode(stored.Sample));

    /// <summary>Deletes the oldest samples.</summary>
    /// <param name="before">Only intervals that began before, ms since 1970.</param>
    /// <param name="most">About so many at most: those of one moment go together.</param>
    /// <param name="takers">Who is to have them before they go.</param>
    /// <param name="points">Where that is known.</param>
    /// <param name="now">The time, ms since 1970.</param>
    /// <returns>How many went.</returns>
    public int Delete(long before, int most, Takers takers, PointStatements points, long now)
    {
        var bound = WriteSession.Scalar(_bound, before, most);
        if (!takers.GiveUp)
            return WriteSession.Run(_delete, bound, points.DeliveredTo(takers.Consumers));
        foreach (var consumer in takers.Consumers)
            points.CountGone(consumer, WriteSession.Scalar(_undelivered, bound, points.DeliveredTo(consumer)), now);
        return WriteSession.Run(_delete, bound, long.MaxValue);
    }
}
