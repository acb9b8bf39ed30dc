using System.Runtime.CompilerServices;
using Microsoft.Data.Sqlite;
using SawEdge.Core;
using SawEdge.Core.Blades;
using SawEdge.Core.Load;

namespace SawEdge.Gateway.History;

/// <content>Evidence, assessments, blades.</content>
public sealed partial class HistoryReader
{
    private const string EvidenceColumns = "e.data, p.data";
    private const string EvidenceFrom = "FROM cycles AS c JOIN evidence AS e ON e.cycle = c.id LEFT JOIN profiles AS p ON p.cycle = c.id";

    /// <summary>What a cycle's record was computed from; null where the cycle or its evidence is not there.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="InvalidDataException">What is stored is no evidence of a known version.</exception>
    public Task<StoredEvidence?> EvidenceAsync(string cycleId, CancellationToken cancellation = default) =>
        AskAsync(
            connection => Rows(connection, $"SELECT {EvidenceColumns}, {CycleRows.Select} {EvidenceFrom} WHERE c.cycle_id = @id", ReadEvidence, ("@id", cycleId)).FirstOrDefault(),
            cancellation);

    /// <summary>What the records of one saw were computed from, ordered by the start of their cycles; cycles without evidence are left out.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="after">Only cycles that started after this moment; null: from the beginning.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="InvalidDataException">What is stored is no evidence of a known version.</exception>
    public async IAsyncEnumerable<StoredEvidence> EvidenceAsync(string saw, DateTimeOffset? after, [EnumeratorCancellation] CancellationToken cancellation = default)
    {
        var (start, id) = (after?.ToUnixTimeMilliseconds() ?? long.MinValue, long.MaxValue);
        while (true)
        {
            var (lastStart, lastId) = (start, id);
            var page = await AskAsync(
                connection => Rows(
                    connection,
                    $"SELECT {EvidenceColumns}, {CycleRows.Select}, c.id {EvidenceFrom} WHERE c.saw = @saw AND (c.started_at, c.id) > (@start, @id) ORDER BY c.started_at, c.id LIMIT {Page}",
                    row => (Evidence: ReadEvidence(row), Id: row.GetInt64(row.FieldCount - 1)),
                    ("@saw", saw),
                    ("@start", lastStart),
                    ("@id", lastId)),
                cancellation);
            foreach (var (evidence, _) in page)
                yield return evidence;
            if (page.Count < Page)
                yield break;
            (start, id) = (page[^1].Evidence.Record.StartedAt.ToUnixTimeMilliseconds(), page[^1].Id);
        }
    }

    /// <summary>What the load score says of a cycle; null where nothing is stored.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="InvalidDataException">What is stored is no assessment of a known version.</exception>
    public Task<LoadAssessment?> AssessmentAsync(string cycleId, CancellationToken cancellation = default) =>
        AskAsync(
            connection => Rows(connection, "SELECT a.data FROM assessments AS a JOIN cycles AS c ON c.id = a.cycle WHERE c.cycle_id = @id", row => AssessmentCodec.Decode((byte[])row[0]), ("@id", cycleId)).FirstOrDefault(),
            cancellation);

    /// <summary>What people said about the blades of a saw.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<StoredBladeEntries> BladeEntriesAsync(string saw, CancellationToken cancellation = default) =>
        AskAsync(
            connection =>
            {
                var rows = Rows(
                    connection,
                    "SELECT id, at, kind, blade, note, withdrawn IS NULL FROM blade_entries WHERE saw = @saw ORDER BY id",
                    row => (Id: row.GetInt64(0), At: Time(row.GetInt64(1)), Kind: BladeEntryRows.Kind(row.GetString(2)), Blade: row.GetString(3), Note: row.GetString(4), Holds: row.GetBoolean(5)),
                    ("@saw", saw));
                var holding = rows.Where(row => row is { Holds: true, Kind: not null }).Select(row => new BladeEntry(row.Id, saw, row.At, row.Kind!.Value, row.Blade, row.Note));
                return new StoredBladeEntries(new BladeBook(holding), rows.Count == 0 ? 0 : rows[^1].Id);
            },
            cancellation);

    /// <summary>The earliest moment that entries or withdrawals after a number speak of; null where there is none.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="known">The number, see <see cref="StoredBladeEntries.Last"/>.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<DateTimeOffset?> EarliestNewEntryAsync(string saw, long known, CancellationToken cancellation = default) =>
        AskAsync(
            connection => Rows(
                connection,
                "SELECT min(at) FROM blade_entries WHERE saw = @saw AND id > @known",
                row => row.IsDBNull(0) ? (DateTimeOffset?)null : Time(row.GetInt64(0)),
                ("@saw", saw),
                ("@known", known))[0],
            cancellation);

    /// <summary>Number of the latest entry or withdrawal of any saw; 0 where there is none. Cheap.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<long> LastBladeEntryAsync(CancellationToken cancellation = default) =>
        AskAsync(connection => HistorySchema.Number(connection, "SELECT ifnull(max(id), 0) FROM blade_entries"), cancellation);

    /// <summary>The latest checkpoint of a saw at or before a moment.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="moment">The moment.</param>
    /// <param name="version">Version that it must have.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <returns>The checkpoint; null where there is none.</returns>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<StoredCheckpoint?> CheckpointAsync(string saw, DateTimeOffset moment, int version, CancellationToken cancellation = default) =>
        AskAsync(
            connection => Rows(
                connection,
                "SELECT at, version, data FROM load_checkpoints WHERE saw = @saw AND at <= @moment AND version = @version ORDER BY at DESC LIMIT 1",
                row => new StoredCheckpoint(Time(row.GetInt64(0)), new SawState(row.GetInt32(1), (byte[])row[2])),
                ("@saw", saw),
                ("@moment", moment.ToUnixTimeMilliseconds()),
                ("@version", version)).FirstOrDefault(),
            cancellation);

    /// <summary>The saws that have cycles, in the order of their names.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyList<string>> SawsAsync(CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<string>>(connection => Rows(connection, "SELECT DISTINCT saw FROM cycles ORDER BY saw", row => row.GetString(0)), cancellation);

    /// <summary>The last cycle of a saw that started at or before a moment; null where there is none.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="moment">The moment; null: the last of all.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<Core.CycleRecord?> LastCycleAsync(string saw, DateTimeOffset? moment = null, CancellationToken cancellation = default) =>
        AskAsync(
            connection => Rows(
                connection,
                $"SELECT {CycleRows.Select} FROM cycles AS c WHERE c.saw = @saw AND c.started_at <= @moment ORDER BY c.started_at DESC, c.id DESC LIMIT 1",
                row => CycleRows.Read(row, 0),
                ("@saw", saw),
                ("@moment", moment?.ToUnixTimeMilliseconds() ?? long.MaxValue)).FirstOrDefault(),
            cancellation);

    /// <summary>The last cycles of a saw with what the load score says of them, the newest last.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="most">Cycles at most.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="InvalidDataException">What is stored is no assessment of a known version.</exception>
    public Task<IReadOnlyList<AssessedCut>> LastCutsAsync(string saw, int most, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<AssessedCut>>(
            connection =>
            {
                var cuts = Rows(
                    connection,
                    $"SELECT a.data, {CycleRows.Select} FROM cycles AS c LEFT JOIN assessments AS a ON a.cycle = c.id WHERE c.saw = @saw ORDER BY c.started_at DESC, c.id DESC LIMIT @most",
                    row => new AssessedCut(CycleRows.Read(row, 1), row.IsDBNull(0) ? null : AssessmentCodec.Decode((byte[])row[0])),
                    ("@saw", saw),
                    // SQLite takes a negative limit for none.
                    ("@most", Math.Max(0, most)));
                cuts.Reverse();
                return cuts;
            },
            cancellation);

    private static StoredEvidence ReadEvidence(SqliteDataReader row)
    {
        var data = EvidenceCodec.Decode((byte[])row[0]);
        var profile = row.IsDBNull(1) ? null : ProfileCodec.Decode((byte[])row[1]);
        return new StoredEvidence(CycleRows.Read(row, 2), data.Cut with { Profile = profile }, data.Job, data.Findings ?? [], data.Blade ?? "");
    }
}
