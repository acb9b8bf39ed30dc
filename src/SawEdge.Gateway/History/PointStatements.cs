using Microsoft.Data.Sqlite;

namespace SawEdge.Gateway.History;

/// <summary>The writer's commands for what points are made of besides the rows of others.</summary>
internal sealed class PointStatements(Func<string, string[], SqliteCommand> prepare)
{
    private readonly SqliteCommand _cursor = prepare("SELECT ifnull((SELECT seq FROM cursors WHERE consumer = @consumer), 0)", ["@consumer"]);
    private readonly SqliteCommand _gone = prepare(
        "INSERT INTO gone(consumer, count, at, seq) VALUES(@consumer, @count, @at, @seq) ON CONFLICT(consumer) DO UPDATE SET count = count + excluded.count, at = excluded.at, seq = max(seq, excluded.seq)",
        ["@consumer", "@count", "@at", "@seq"]);

    private readonly SqliteCommand _goneTo = prepare("SELECT ifnull((SELECT seq FROM gone WHERE consumer = @consumer), 0)", ["@consumer"]);

    private readonly SqliteCommand _name = prepare("INSERT OR IGNORE INTO stop_names(name) VALUES(@name)", ["@name"]);
    private readonly SqliteCommand _report = prepare("INSERT INTO health_reports(at, data) VALUES(@at, @data) RETURNING seq", ["@at", "@data"]);
    private readonly SqliteCommand _bound = prepare("SELECT ifnull(max(seq), 0) FROM (SELECT seq FROM health_reports WHERE at < @before ORDER BY seq LIMIT @most)", ["@before", "@most"]);
    private readonly SqliteCommand _deleteReports = prepare("DELETE FROM health_reports WHERE seq <= @bound AND at < @before", ["@bound", "@before"]);
    private readonly SqliteCommand _undeliveredReports = prepare("SELECT count(*) FROM health_reports WHERE seq > @delivered AND seq <= @bound AND at < @before", ["@delivered", "@bound", "@before"]);

    /// <summary>How far the slowest of some consumers is; the end of all numbers where there is none.</summary>
    public long DeliveredTo(IReadOnlyCollection<string> consumers) => consumers.Count == 0 ? long.MaxValue : consumers.Min(DeliveredTo);

    /// <summary>How far a consumer is.</summary>
    public long DeliveredTo(string consumer) => WriteSession.Scalar(_cursor, consumer);

    /// <summary>Counts what was cleared away before a consumer had it.</summary>
    public void CountGone(string consumer, long count, long now)
    {
        if (count > 0)
            WriteSession.Run(_gone, consumer, count, now, 0);
    }

    /// <summary>Counts places at which a consumer found nothing any more, each once however often it comes to them.</summary>
    /// <returns>How many were not counted before.</returns>
    public int CountGone(string consumer, IReadOnlyList<long> places, long now)
    {
        var known = WriteSession.Scalar(_goneTo, consumer);
        var count = places.Count(place => place > known);
        if (count > 0)
            WriteSession.Run(_gone, consumer, count, now, places.Max());
        return count;
    }

    /// <summary>Remembers a reason that has a tag value of its own.</summary>
    public void StoreName(string name) => WriteSession.Run(_name, name);

    /// <summary>Stores a report about the gateway's health.</summary>
    /// <returns>Its number.</returns>
    public long Store(HealthReport report) => WriteSession.Scalar(_report, report.At.ToUnixTimeMilliseconds(), HealthJson.Write(report));

    /// <summary>Deletes the oldest reports.</summary>
    /// <param name="before">Only those of moments before, ms since 1970.</param>
    /// <param name="most">So many at most.</param>
    /// <param name="takers">Who is to have them before they go.</param>
    /// <param name="now">The time, ms since 1970.</param>
    /// <returns>How many went.</returns>
    public int DeleteReports(long before, int most, Takers takers, long now)
    {
        var bound = WriteSession.Scalar(_bound, before, most);
        if (!takers.GiveUp)
            return WriteSession.Run(_deleteReports, Math.Min(bound, DeliveredTo(takers.Consumers)), before);
        foreach (var consumer in takers.Consumers)
            CountGone(consumer, WriteSession.Scalar(_undeliveredReports, DeliveredTo(consumer), bound, before), now);
        return WriteSession.Run(_deleteReports, bound, before);
    }
}
