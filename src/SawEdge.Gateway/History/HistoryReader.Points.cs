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

    /// <summary>The reasons of stops that have a tag value of their own.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyList<string>> StopNamesAsync(CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<string>>(connection => Rows(connection, "SELECT name FROM stop_names", row => row.GetString(0)), cancellation);
}
