using System.Text.Json;
using Microsoft.Data.Sqlite;
using SawEdge.Core;
using SawEdge.Core.Cycles;

namespace SawEdge.Gateway.History;

/// <summary>An entry of the journal with the profile of its cycle.</summary>
/// <param name="Sequence">Its number.</param>
/// <param name="Cycle">The cycle; null where the entry is about something else or its row is gone.</param>
/// <param name="Profile">Its profile; null where it has none.</param>
/// <param name="IsGone">Whether it had one that was cleared away.</param>
public sealed record JournalProfile(long Sequence, CycleRecord? Cycle, DepthProfile? Profile, bool IsGone);

/// <summary>A report about the gateway's health as it is stored.</summary>
/// <param name="Sequence">Its number.</param>
/// <param name="Report">The report.</param>
public sealed record StoredHealth(long Sequence, HealthReport Report);

/// <summary>How far a destination is, over all its lanes.</summary>
/// <param name="Waiting">Entries that wait, by the numbers of the lanes: what was replaced or is of another kind is counted with them.</param>
/// <param name="OldestAt">When the oldest of them came about; null where nothing waits.</param>
/// <param name="SetAside">What its server refused for good and is set aside.</param>
/// <param name="Gone">What was cleared away before it had it.</param>
public sealed record DestinationStanding(long Waiting, DateTimeOffset? OldestAt, long SetAside, long Gone);

/// <summary>What waits for the lanes of a destination besides those of cycles, alarms and hours.</summary>
/// <param name="Profiles">Cycles, new and corrected ones, whose profiles wait.</param>
/// <param name="Samples">Intervals of saws whose signals wait.</param>
/// <param name="Reports">Reports about the gateway's health.</param>
/// <param name="Gone">What was cleared away before the destination had it, of all its lanes.</param>
/// <param name="GoneAt">When the last of that was noticed; null where nothing was.</param>
public sealed record LanesWaiting(long Profiles, long Samples, long Reports, long Gone, DateTimeOffset? GoneAt);

/// <content>What points are made of besides the rows of others.</content>
public sealed partial class HistoryReader
{
    // Whoever saw both ends of a cut has a profile of it, unless it was cleared away together with what it was computed from.
    private const string ProfileIsGone = "p.data IS NULL AND c.cut_time_s IS NOT NULL AND NOT EXISTS(SELECT 1 FROM evidence WHERE cycle = c.id)";

    /// <summary>The journal after a number, in order, with the profiles of the cycles.</summary>
    /// <param name="after">The last that was dealt with; 0 for the beginning.</param>
    /// <param name="most">Entries at most.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="InvalidDataException">What is stored is no profile of a known version.</exception>
    public Task<IReadOnlyList<JournalProfile>> JournalProfilesAsync(long after, int most, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<JournalProfile>>(
            connection => Rows(
                connection,
                $"SELECT j.seq, p.data, {ProfileIsGone}, c.id, {CycleRows.Select} FROM journal AS j LEFT JOIN cycles AS c ON j.kind = '{JournalKinds.Cycle}' AND c.id = j.item LEFT JOIN profiles AS p ON p.cycle = c.id WHERE j.seq > @after ORDER BY j.seq LIMIT @most",
                row => new JournalProfile(row.GetInt64(0), row.IsDBNull(3) ? null : CycleRows.Read(row, 4), row.IsDBNull(1) ? null : ProfileCodec.Decode((byte[])row[1]), row.GetBoolean(2)),
                ("@after", after),
                ("@most", most)),
            cancellation);

    /// <summary>Samples after a number, in that order: those that were new or stored again since a destination wanted samples.</summary>
    /// <inheritdoc cref="JournalProfilesAsync"/>
    public Task<IReadOnlyList<(long Sequence, SawSample Stored)>> SamplesAfterAsync(long after, int most, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<(long, SawSample)>>(
            connection => Rows(
                connection,
                $"SELECT {SampleColumns}, seq FROM signal_samples WHERE seq > @after ORDER BY seq LIMIT @most",
                row => (row.GetInt64(5), ReadSample(row)),
                ("@after", after),
                ("@most", most)),
            cancellation);

    /// <summary>The number of the sample that was stored last for a destination; 0 where there is none.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<long> LastSampleAsync(CancellationToken cancellation = default) =>
        AskAsync(connection => HistorySchema.Number(connection, "SELECT ifnull(max(seq), 0) FROM signal_samples WHERE seq IS NOT NULL"), cancellation);

    /// <summary>The profiles of some cycles by their identities; cycles without one are left out.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="InvalidDataException">What is stored is no profile of a known version.</exception>
    public Task<IReadOnlyDictionary<string, DepthProfile>> ProfilesAsync(IReadOnlyCollection<string> cycleIds, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyDictionary<string, DepthProfile>>(
            connection => Rows(
                connection,
                "SELECT c.cycle_id, p.data FROM cycles AS c JOIN profiles AS p ON p.cycle = c.id WHERE c.cycle_id IN (SELECT value FROM json_each(@ids))",
                row => (Id: row.GetString(0), Profile: ProfileCodec.Decode((byte[])row[1])),
                ("@ids", JsonSerializer.Serialize(cycleIds))).ToDictionary(row => row.Id, row => row.Profile, StringComparer.Ordinal),
            cancellation);

    /// <summary>Reports about the gateway's health after a number, in order.</summary>
    /// <inheritdoc cref="JournalProfilesAsync"/>
    public Task<IReadOnlyList<StoredHealth>> HealthAfterAsync(long after, int most, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<StoredHealth>>(
            connection => Rows(
                connection,
                "SELECT seq, data FROM health_reports WHERE seq > @after ORDER BY seq LIMIT @most",
                row => new StoredHealth(row.GetInt64(0), HealthJson.Read(row.GetString(1))),
                ("@after", after),
                ("@most", most)),
            cancellation);

    /// <summary>The last report about the gateway's health; null where there is none.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="InvalidDataException">What is stored is no report of a known version.</exception>
    public Task<HealthReport?> LastHealthAsync(CancellationToken cancellation = default) =>
        AskAsync(connection => Rows(connection, "SELECT data FROM health_reports ORDER BY seq DESC LIMIT 1", row => HealthJson.Read(row.GetString(0))).FirstOrDefault(), cancellation);

    /// <summary>The reasons of stops that have a tag value of their own.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyList<string>> StopNamesAsync(CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<string>>(connection => Rows(connection, "SELECT name FROM stop_names", row => row.GetString(0)), cancellation);

    /// <summary>How much was cleared away before each consumer had it, by its name; those that lost nothing are left out.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyDictionary<string, long>> GoneAsync(CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyDictionary<string, long>>(connection => Rows(connection, "SELECT consumer, count FROM gone", row => (row.GetString(0), row.GetInt64(1))).ToDictionary(row => row.Item1, row => row.Item2, StringComparer.Ordinal), cancellation);

    /// <summary>Those consumers of profiles that do not have all of a stretch yet.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    internal Task<IReadOnlyList<string>> WithoutDetailsAsync(DetailBlock block, IReadOnlyCollection<string> consumers, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<string>>(
            connection =>
            [
                .. consumers.Where(consumer => Rows(
                    connection,
                    $"""
                    SELECT EXISTS(SELECT 1 FROM journal WHERE seq > ifnull((SELECT seq FROM cursors WHERE consumer = @consumer), 0) AND kind = '{JournalKinds.Cycle}' AND saw = @saw
                        AND item IN (SELECT id FROM cycles WHERE saw = @saw AND started_at BETWEEN @from AND @to))
                    """,
                    row => row.GetBoolean(0),
                    ("@consumer", consumer),
                    ("@saw", block.Saw),
                    ("@from", block.From.ToUnixTimeMilliseconds()),
                    ("@to", block.To.ToUnixTimeMilliseconds()))[0]),
            ],
            cancellation);

    /// <summary>How far destinations are, by name. Cheap, however much waits.</summary>
    /// <param name="destinations">Each with the lanes that it has, by the names of the consumers.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyDictionary<string, DestinationStanding>> StandingsAsync(IReadOnlyDictionary<string, IReadOnlyList<string>> destinations, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyDictionary<string, DestinationStanding>>(
            connection =>
            {
                // One moment for all.
                using var transaction = connection.BeginTransaction(deferred: true);
                return destinations.ToDictionary(destination => destination.Key, destination => Standing(connection, destination.Value), StringComparer.Ordinal);
            },
            cancellation);

    /// <summary>What waits for the lanes of a destination besides those of cycles, alarms and hours.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<LanesWaiting> LanesWaitingAsync(string destination, CancellationToken cancellation = default) =>
        AskAsync(
            connection => Rows(
                connection,
                $"""
                SELECT (SELECT count(*) FROM journal WHERE kind = '{JournalKinds.Cycle}' AND seq > ifnull((SELECT seq FROM cursors WHERE consumer = @name || '{Lanes.Profiles}'), 0)),
                    (SELECT count(*) FROM signal_samples WHERE seq > ifnull((SELECT seq FROM cursors WHERE consumer = @name || '{Lanes.Signals}'), 0)),
                    (SELECT count(*) FROM health_reports WHERE seq > ifnull((SELECT seq FROM cursors WHERE consumer = @name || '{Lanes.Gateway}'), 0)),
                    (SELECT ifnull(sum(count), 0) FROM gone WHERE consumer IN (@name || '{Lanes.Profiles}', @name || '{Lanes.Signals}', @name || '{Lanes.Gateway}')),
                    (SELECT max(at) FROM gone WHERE consumer IN (@name || '{Lanes.Profiles}', @name || '{Lanes.Signals}', @name || '{Lanes.Gateway}'))
                """,
                row => new LanesWaiting(row.GetInt64(0), row.GetInt64(1), row.GetInt64(2), row.GetInt64(3), row.IsDBNull(4) ? null : Time(row.GetInt64(4))),
                ("@name", destination))[0],
            cancellation);

    private static DestinationStanding Standing(SqliteConnection connection, IReadOnlyList<string> consumers)
    {
        var (waiting, oldest, setAside, gone) = (0L, (DateTimeOffset?)null, 0L, 0L);
        foreach (var consumer in consumers)
        {
            var cursor = Rows(connection, "SELECT ifnull((SELECT seq FROM cursors WHERE consumer = @consumer), 0)", row => row.GetInt64(0), ("@consumer", consumer))[0];
            var (table, at) = consumer switch
            {
                _ when consumer.EndsWith(Lanes.Hours, StringComparison.Ordinal) => ("account_hours", "ends_at"),
                _ when consumer.EndsWith(Lanes.Signals, StringComparison.Ordinal) => ("signal_samples", "at + every_ms"),
                _ when consumer.EndsWith(Lanes.Gateway, StringComparison.Ordinal) => ("health_reports", "at"),
                _ => ("journal", "at"),
            };
            waiting += Math.Max(0, Rows(connection, $"SELECT ifnull(max(seq), 0) FROM {table} WHERE seq IS NOT NULL", row => row.GetInt64(0))[0] - cursor);
            if (Rows(connection, $"SELECT {at} FROM {table} WHERE seq > @cursor ORDER BY seq LIMIT 1", row => Time(row.GetInt64(0)), ("@cursor", cursor)) is [var first] && !(first >= oldest))
                oldest = first;
            setAside += Rows(connection, "SELECT count(*) FROM refused WHERE consumer = @consumer", row => row.GetInt64(0), ("@consumer", consumer))[0];
            gone += Rows(connection, "SELECT ifnull((SELECT count FROM gone WHERE consumer = @consumer), 0)", row => row.GetInt64(0), ("@consumer", consumer))[0];
        }

        return new DestinationStanding(waiting, oldest, setAside, gone);
    }
}
