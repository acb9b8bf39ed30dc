using System.Globalization;
using Microsoft.Data.Sqlite;

namespace SawEdge.Gateway.History;

/// <summary>What a check of a history found.</summary>
/// <param name="Version">Its schema version.</param>
/// <param name="Rows">How many rows were decoded, besides what SQLite checked.</param>
/// <param name="Findings">What is wrong, a sentence each; empty: nothing.</param>
/// <param name="Notes">What is worth knowing and not wrong.</param>
public sealed record CheckOutcome(int Version, long Rows, IReadOnlyList<string> Findings, IReadOnlyList<string> Notes);

/// <summary>
/// Looks a history or a backup through: its pages and indexes (SQLite's <c>integrity_check</c>), its references, and what this program holds to
/// be true of it. One read transaction, so that a running gateway does not change the ground under it.
/// </summary>
internal static class HistoryCheck
{
    private const int MostFindings = 20;

    // Each gives a sentence for each row that breaks what must hold. The journal's numbers are given once and never taken back. A lane counts
    // what it carries; where that is samples, what it had delivered may be cleared away.
    private static readonly string[] Rules =
    [
        "SELECT 'journal: ' || (max(seq) - min(seq) + 1 - count(*)) || ' numbers are missing between ' || min(seq) || ' and ' || max(seq) FROM journal HAVING count(*) > 0 AND max(seq) - min(seq) + 1 <> count(*)",
        "SELECT 'journal: the last number is ' || max(j.seq) || ', but the next to be given is ' || (s.seq + 1) FROM journal AS j, sqlite_sequence AS s WHERE s.name = 'journal' HAVING max(j.seq) > s.seq",
        "SELECT 'journal: number ' || seq || ' names cycle row ' || item || ', which is not there' FROM journal WHERE kind = 'cycle' AND item NOT IN (SELECT id FROM cycles)",
        "SELECT 'journal: number ' || seq || ' names alarm event ' || item || ', which is not there' FROM journal WHERE kind = 'alarm_event' AND item NOT IN (SELECT id FROM alarm_events)",
        "SELECT 'journal: number ' || seq || ' names message ' || item || ', which is not there' FROM journal WHERE kind = 'notice' AND item NOT IN (SELECT id FROM notices)",
        "SELECT 'cycles: ' || cycle_id || ' is not in the journal, so no destination gets it' FROM cycles WHERE id NOT IN (SELECT item FROM journal WHERE kind = 'cycle') AND (SELECT ifnull(min(seq), 1) FROM journal) = 1",
        "SELECT 'alarm_events: ' || id || ' is not in the journal' FROM alarm_events WHERE id NOT IN (SELECT item FROM journal WHERE kind = 'alarm_event') AND (SELECT ifnull(min(seq), 1) FROM journal) = 1",
        "SELECT 'alarm_events: ' || id || ' belongs to alarm ' || number || ', which is not there' FROM alarm_events WHERE number IS NOT NULL AND number NOT IN (SELECT number FROM alarms)",
        $"SELECT 'cursors: ' || consumer || ' is at ' || seq || ', behind the end' FROM cursors WHERE seq < 0 OR seq > CASE WHEN consumer LIKE '%{Lanes.Hours}' THEN (SELECT ifnull(max(seq), 0) FROM account_hours) WHEN consumer LIKE '%{Lanes.Gateway}' THEN (SELECT ifnull(max(seq), 0) FROM sqlite_sequence WHERE name = 'health_reports') WHEN consumer LIKE '%{Lanes.Signals}' THEN NULL ELSE (SELECT ifnull(max(seq), 0) FROM sqlite_sequence WHERE name = 'journal') END",
        "SELECT 'cycles: ' || cycle_id || ' ends before it begins' FROM cycles WHERE ended_at < started_at",
        "SELECT 'states: one of ' || saw || ' at ' || started_at || ' ends before it begins' FROM states WHERE ended_at < started_at",
        "SELECT 'signal_samples: one of ' || saw || ' at ' || at || ' has no length or no frame' FROM signal_samples WHERE every_ms <= 0 OR frames <= 0",
    ];

    /// <summary>Checks a file.</summary>
    /// <param name="path">The history or backup.</param>
    /// <param name="progress">Told how many rows were decoded, and of how many.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <exception cref="HistoryNewerException">It was written by a newer program.</exception>
    /// <exception cref="HistoryException">It cannot be read.</exception>
    public static CheckOutcome Run(string path, Action<long, long> progress, CancellationToken cancellation)
    {
        var findings = new List<string>();
        var notes = new List<string>();
        var version = 0;
        long rows = 0;
        try
        {
            using var connection = new SqliteConnection(new SqliteConnectionStringBuilder { DataSource = path, Mode = SqliteOpenMode.ReadOnly, Pooling = false, DefaultTimeout = 10 }.ToString());
            connection.Open();
            using var moment = connection.BeginTransaction(deferred: true);
            version = HistorySchema.Check(connection, path);
            findings.AddRange(Unsound(connection));
            cancellation.ThrowIfCancellationRequested();
            if (findings.Count == 0 && version == HistorySchema.Version)
            {
                foreach (var rule in Rules)
                    findings.AddRange(Texts(connection, rule));
                rows = Decode(connection, findings, progress, cancellation);
                notes.AddRange(Notes(connection));
            }
            else if (findings.Count == 0)
            {
                notes.Add(version == 0 ? "It holds nothing yet." : string.Create(CultureInfo.InvariantCulture, $"It has schema version {version}, and this program writes {HistorySchema.Version}: its pages and references were checked, its content only after the gateway has brought it up to date."));
            }
        }
        catch (SqliteException e) when (SqliteTrouble.Classify(e) == TroubleKind.Damage)
        {
            findings.Add(e.Message);
        }
        catch (SqliteException e)
        {
            throw new HistoryException($"The history '{path}' cannot be read: {SqliteTrouble.Describe(e)}.", e);
        }

        return new CheckOutcome(version, rows, findings, notes);
    }

    /// <summary>What is wrong with the pages, indexes and references of a database; empty: nothing.</summary>
    /// <exception cref="SqliteException">It is damaged so that even this cannot be asked, or it cannot be read.</exception>
    public static IReadOnlyList<string> Unsound(SqliteConnection connection)
    {
        var findings = Texts(connection, string.Create(CultureInfo.InvariantCulture, $"PRAGMA integrity_check({MostFindings})"));
        if (findings is ["ok"])
            findings.Clear();
        findings.AddRange(Texts(connection, "SELECT \"table\" || ': row ' || ifnull(rowid, '?') || ' belongs to a row of ' || parent || ' that is not there' FROM pragma_foreign_key_check"));
        return [.. findings.SelectMany(finding => finding.Split('\n', StringSplitOptions.RemoveEmptyEntries)).Take(MostFindings)];
    }

    private static IEnumerable<string> Notes(SqliteConnection connection)
    {
        var (cycles, profiles, evidence) = (HistorySchema.Number(connection, "SELECT count(*) FROM cycles"), HistorySchema.Number(connection, "SELECT count(*) FROM profiles"), HistorySchema.Number(connection, "SELECT count(*) FROM evidence"));
        if (profiles < cycles)
            yield return string.Create(CultureInfo.InvariantCulture, $"{cycles - profiles} of {cycles} cycles have no profile: it was not known, or is not kept any more.");
        if (evidence < cycles)
            yield return string.Create(CultureInfo.InvariantCulture, $"{cycles - evidence} of {cycles} cycles have no evidence: their records stay as they are and cannot be computed anew.");
    }

    private static long Decode(SqliteConnection connection, List<string> findings, Action<long, long> progress, CancellationToken cancellation)
    {
        (string Table, string Sql, Action<SqliteDataReader> Decode)[] kinds =
        [
            ("profiles", "SELECT cycle, data FROM profiles", row => ProfileCodec.Decode((byte[])row[1])),
            ("evidence", "SELECT cycle, data FROM evidence", row => EvidenceCodec.Decode((byte[])row[1])),
            ("assessments", "SELECT cycle, data FROM assessments", row => AssessmentCodec.Decode((byte[])row[1])),
            ("signal_samples", "SELECT saw || ' at ' || at, at, every_ms, frames, data FROM signal_samples", row => SampleCodec.Decode(DateTimeOffset.FromUnixTimeMilliseconds(row.GetInt64(1)), TimeSpan.FromMilliseconds(row.GetInt64(2)), row.GetInt32(3), (byte[])row[4])),
        ];
        var all = kinds.Sum(kind => HistorySchema.Number(connection, $"SELECT count(*) FROM {kind.Table}"));
        long done = 0;
        foreach (var (table, sql, decode) in kinds)
        {
            var wrong = 0;
            using var command = connection.CreateCommand();
            command.CommandText = sql;
            using var row = command.ExecuteReader();
            while (row.Read())
            {
                try
                {
                    decode(row);
                }
                catch (InvalidDataException e)
                {
                    if (++wrong <= MostFindings)
                        findings.Add($"{table}: that of {(table == "signal_samples" ? "" : "cycle row ")}{row[0]} cannot be read: {e.Message}");
                }

                if (++done % 1000 == 0)
                {
                    cancellation.ThrowIfCancellationRequested();
                    progress(done, all);
                }
            }

            if (wrong > MostFindings)
                findings.Add(string.Create(CultureInfo.InvariantCulture, $"{table}: and {wrong - MostFindings} more that cannot be read"));
        }

        return done;
    }

    private static List<string> Texts(SqliteConnection connection, string sql)
    {
        using var command = connection.CreateCommand();
        command.CommandText = sql;
        using var row = command.ExecuteReader();
        var texts = new List<string>();
        while (texts.Count < MostFindings && row.Read())
            texts.Add(Convert.ToString(row[0], CultureInfo.InvariantCulture) ?? "");
        return texts;
    }
}
