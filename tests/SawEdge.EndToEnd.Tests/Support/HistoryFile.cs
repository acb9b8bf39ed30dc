using System.Globalization;
using Microsoft.Data.Sqlite;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests.Support;

/// <summary>A cycle or an alarm as it stands in the file: columns by name; what is not known is null.</summary>
internal sealed class CycleRow(IReadOnlyDictionary<string, object?> columns)
{
    public IReadOnlyDictionary<string, object?> Columns => columns;

    public string Id => Text("cycle_id")!;

    public string Outcome => Text("outcome")!;

    public string? Text(string column) => (string?)columns[column];

    public double Number(string column) => columns[column] is { } value ? Convert.ToDouble(value, CultureInfo.InvariantCulture) : double.NaN;

    public long? Whole(string column) => (long?)columns[column];

    public DateTimeOffset? Time(string column) => Whole(column) is { } milliseconds ? DateTimeOffset.FromUnixTimeMilliseconds(milliseconds) : null;

    public bool IsKnown(string column) => columns[column] is not null;

    public override string ToString() => string.Join(", ", columns.Where(column => column.Value is not null).Select(column => string.Create(CultureInfo.InvariantCulture, $"{column.Key}={column.Value}")));
}

/// <summary>The history as a stranger sees it: a SQLite file, read with nothing of the gateway's.</summary>
internal sealed class HistoryFile(string dataFolder)
{
    /// <summary>The sqlite3 program, for <see cref="PeerFactAttribute"/>.</summary>
    public const string Program = "sqlite3";

    public string Path { get; } = System.IO.Path.Combine(dataFolder, "history.db");

    /// <summary>The cycles of a saw, or of all, in the order of their start; empty where there is no history yet.</summary>
    public IReadOnlyList<CycleRow> Cycles(string? saw = null) =>
        [.. Rows("SELECT * FROM cycles ORDER BY started_at, saw").Select(row => new CycleRow(row)).Where(row => saw is null || row.Text("saw") == saw)];

    /// <summary>The alarms in the order of their numbers; empty where there is no history yet.</summary>
    public IReadOnlyList<CycleRow> Alarms() => [.. Rows("SELECT * FROM alarms ORDER BY number").Select(row => new CycleRow(row))];

    /// <summary>Rows of a table.</summary>
    public long Count(string table) => Rows($"SELECT count(*) AS rows FROM {table}").Select(row => (long)row["rows"]!).FirstOrDefault();

    /// <summary>Number of the last part of an open cycle's frames that was stored; null where no cycle is open.</summary>
    public long? LastOpenPart(string saw) => Rows($"SELECT max(part) AS part FROM open_frames WHERE saw = '{saw}'").Select(row => (long?)row["part"]).FirstOrDefault();

    /// <summary>What sqlite3 says to <c>PRAGMA integrity_check</c> and <c>foreign_key_check</c>: "ok".</summary>
    public async Task<string> IntegrityAsync()
    {
        var (_, output) = await Peer.RunAsync(Program, ["-readonly", Path, "PRAGMA integrity_check; PRAGMA foreign_key_check;"]);
        return output;
    }

    private List<Dictionary<string, object?>> Rows(string sql)
    {
        var rows = new List<Dictionary<string, object?>>();
        if (!File.Exists(Path))
            return rows;
        using var connection = new SqliteConnection($"Data Source={Path};Mode=ReadOnly;Pooling=False;Default Timeout=10");
        connection.Open();
        using var command = connection.CreateCommand();
        command.CommandText = "SELECT count(*) FROM sqlite_schema WHERE name = 'open_frames'";
        if ((long)command.ExecuteScalar()! == 0)
            return rows;
        command.CommandText = sql;
        using var reader = command.ExecuteReader();
        while (reader.Read())
            rows.Add(Enumerable.Range(0, reader.FieldCount).ToDictionary(reader.GetName, i => reader.IsDBNull(i) ? null : reader.GetValue(i), StringComparer.Ordinal));
        return rows;
    }
}
