using System.Globalization;
using Microsoft.Data.Sqlite;

namespace SawEdge.Gateway.History;

/// <summary>How much of one kind of data a history holds.</summary>
/// <param name="Name">The kind.</param>
/// <param name="Tables">Its tables.</param>
/// <param name="Rows">Rows in them.</param>
/// <param name="Bytes">What the rows hold: texts and bytes as long as they are, 8 a number; without SQLite's own structure.</param>
/// <param name="Oldest">Time of the oldest, where the kind has times and rows.</param>
/// <param name="Newest">Time of the newest.</param>
public sealed record StockKind(string Name, IReadOnlyList<string> Tables, long Rows, long Bytes, DateTimeOffset? Oldest, DateTimeOffset? Newest);

/// <summary>What is in a history's file, and around it.</summary>
public sealed record HistoryStock
{
    // Oldest and newest are asked of the first table.
    private static readonly (string Name, string Times, string[] Tables)[] Kinds =
    [
        ("cycles", "SELECT min(started_at), max(started_at) FROM cycles", ["cycles"]),
        ("profiles", OfCycles("profiles"), ["profiles"]),
        ("evidence", OfCycles("evidence"), ["evidence"]),
        ("assessments", OfCycles("assessments"), ["assessments"]),
        ("states", "SELECT min(started_at), max(ended_at) FROM states", ["states"]),
        ("signals", "SELECT min(at), max(at) FROM signal_samples", ["signal_samples"]),
        ("alarms", "SELECT min(at), max(at) FROM alarm_events", ["alarm_events", "alarms", "alarm_answers", "alarm_memory", "used_links"]),
        ("messages", "SELECT min(at), max(at) FROM notices", ["notices"]),
        ("entries of people", "SELECT min(entered), max(entered) FROM blade_entries", ["blade_entries", "stop_reasons", "scrap", "scrap_counters", "api_tokens"]),
        ("audit trail", "SELECT min(at), max(at) FROM audit", ["audit"]),
        ("hours and sums", "SELECT min(begins_at), max(begins_at) FROM account_hours", ["account_hours", "account_sums", "account_changes"]),
        ("memory of the saws", "SELECT min(at), max(at) FROM load_checkpoints", ["load_checkpoints", "saw_state", "open_frames"]),
        ("health of the gateway", "SELECT min(at), max(at) FROM health_reports", ["health_reports"]),
        ("journal", "SELECT min(at), max(at) FROM journal", ["journal", "cursors", "refused", "gone", "stop_names"]),
    ];

    /// <summary>The file, full path.</summary>
    public required string FilePath { get; init; }

    /// <summary>Schema version.</summary>
    public required int Version { get; init; }

    /// <summary>Size of the file, bytes.</summary>
    public required long FileBytes { get; init; }

    /// <summary>Size of its log, bytes; it is taken in and cut back while the gateway runs.</summary>
    public required long LogBytes { get; init; }

    /// <summary>Size of a page, bytes.</summary>
    public required long PageBytes { get; init; }

    /// <summary>Pages in all.</summary>
    public required long Pages { get; init; }

    /// <summary>Pages that hold nothing any more; what is new goes there first.</summary>
    public required long FreePages { get; init; }

    /// <summary>The kinds of data.</summary>
    public required IReadOnlyList<StockKind> OfKinds { get; init; }

    /// <summary>Last number of the journal; 0 where it is empty.</summary>
    public required long LastSequence { get; init; }

    /// <summary>Histories that were set aside in the folder, full paths.</summary>
    public required IReadOnlyList<string> Aside { get; init; }

    /// <summary>The tables of all kinds.</summary>
    internal static IEnumerable<string> AllTables => Kinds.SelectMany(kind => kind.Tables);

    /// <summary>Takes stock, beside a running gateway, too. All rows are counted; each table is a short question of its own, so that the log can be cut back in between.</summary>
    /// <param name="folder">The data folder.</param>
    /// <param name="progress">Told how many kinds are counted, and of how many.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <exception cref="HistoryException">There is no history of this program's version, or it cannot be read.</exception>
    public static HistoryStock Take(string folder, Action<long, long> progress, CancellationToken cancellation)
    {
        var full = Path.GetFullPath(folder);
        var path = Path.Combine(full, HistoryDatabase.FileName);
        try
        {
            using var connection = new SqliteConnection(new SqliteConnectionStringBuilder { DataSource = path, Mode = SqliteOpenMode.ReadOnly, Pooling = false, DefaultTimeout = 10 }.ToString());
            connection.Open();
            HistorySchema.RequireCurrent(connection, path);
            var kinds = new List<StockKind>();
            foreach (var kind in Kinds)
            {
                cancellation.ThrowIfCancellationRequested();
                kinds.Add(Count(connection, kind.Name, kind.Times, kind.Tables));
                progress(kinds.Count, Kinds.Length);
            }

            return new HistoryStock
            {
                FilePath = path,
                Version = HistorySchema.Version,
                FileBytes = Length(path),
                LogBytes = Length(path + "-wal"),
                PageBytes = HistorySchema.Number(connection, "PRAGMA page_size"),
                Pages = HistorySchema.Number(connection, "PRAGMA page_count"),
                FreePages = HistorySchema.Number(connection, "PRAGMA freelist_count"),
                OfKinds = kinds,
                LastSequence = HistorySchema.Number(connection, "SELECT ifnull(max(seq), 0) FROM journal"),
                Aside = [.. AsideFiles.Find(full, AsideFiles.Damaged), .. AsideFiles.Find(full, AsideFiles.Settled), .. AsideFiles.Find(full, AsideFiles.Replaced)],
            };
        }
        catch (SqliteException e) when (SqliteTrouble.Classify(e) == TroubleKind.Damage)
        {
            throw new HistoryCorruptException(path, e.Message, e);
        }
        catch (SqliteException e)
        {
            throw new HistoryException($"The history '{path}' cannot be read: {SqliteTrouble.Describe(e)}.", e);
        }
    }

    private static StockKind Count(SqliteConnection connection, string name, string times, string[] tables)
    {
        var (rows, bytes) = (0L, 0L);
        foreach (var table in tables)
        {
            // Names of tables and columns are our own. SQLite knows the length of a text or of bytes without reading them.
            var columns = HistorySchema.Text(connection, $"SELECT group_concat(CASE WHEN type IN ('TEXT', 'BLOB') THEN 'ifnull(octet_length(' || quote(name) || '), 0)' ELSE '8 * (' || quote(name) || ' IS NOT NULL)' END, ' + ') FROM pragma_table_info('{table}')").Replace('\'', '"');
            using var count = connection.CreateCommand();
            count.CommandText = $"SELECT count(*), ifnull(sum({columns}), 0) FROM {table}";
            using var row = count.ExecuteReader();
            row.Read();
            rows += row.GetInt64(0);
            bytes += row.GetInt64(1);
        }

        using var command = connection.CreateCommand();
        command.CommandText = times;
        using var span = command.ExecuteReader();
        span.Read();
        return span.IsDBNull(0)
            ? new StockKind(name, tables, rows, bytes, null, null)
            : new StockKind(name, tables, rows, bytes, DateTimeOffset.FromUnixTimeMilliseconds(span.GetInt64(0)), DateTimeOffset.FromUnixTimeMilliseconds(span.GetInt64(1)));
    }

    private static string OfCycles(string table) => $"SELECT min(c.started_at), max(c.started_at) FROM {table} AS t JOIN cycles AS c ON c.id = t.cycle";

    private static long Length(string path) => new FileInfo(path) is { Exists: true } file ? file.Length : 0;
}
