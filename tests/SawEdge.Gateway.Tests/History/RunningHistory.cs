using Microsoft.Data.Sqlite;
using SawEdge.Core;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.History;

/// <summary>A history in a folder of its own with its writer running.</summary>
internal sealed class RunningHistory : IAsyncDisposable
{
    // What has triggers that say that accounts change.
    private static readonly (string What, string[] Changes)[] Watched =
        [("cycle", ["new", "gone", "other"]), ("state", ["longer", "other", "changed", "gone"]), ("reason", ["new", "changed", "gone"]), ("scrap", ["new", "changed", "gone"])];

    private readonly TempFolder? _temporary;
    private readonly HistoryDatabase _database;
    private readonly Task _run;

    public RunningHistory(string? folder = null, int capacity = 4096)
    {
        _temporary = folder is null ? new TempFolder() : null;
        _database = HistoryDatabase.Open(folder ?? _temporary!.Path);
        Writer = new HistoryWriter(_database, TimeProvider.System, Log.For<HistoryWriter>(), capacity);
        Reader = new HistoryReader(_database);
        _run = Writer.RunAsync(CancellationToken.None);
    }

    public CollectedLog Log { get; } = new();

    public HistoryWriter Writer { get; }

    public HistoryReader Reader { get; }

    public string Folder => _database.Folder;

    public string FilePath => _database.FilePath;

    public Task Run => _run;

    public Task AppendAsync(CycleRecord record) => Writer.AppendAsync(new FinishedCycle { Record = record }, CancellationToken.None);

    /// <summary>Asks the file with a connection that is not the product's.</summary>
    public object? Ask(string sql)
    {
        using var connection = new SqliteConnection($"Data Source={FilePath};Pooling=False");
        connection.Open();
        using var command = connection.CreateCommand();
        command.CommandText = sql;
        return command.ExecuteScalar();
    }

    /// <summary>Copies what is stored into a folder, as the file of an older version would hold it: each version only added tables.</summary>
    public void CopyAsVersion(int version, string folder)
    {
        string[][] added = [["evidence", "assessments", "blade_entries", "load_checkpoints"], ["alarms", "alarm_events", "alarm_answers", "notices", "alarm_memory", "used_links"], ["states"], ["stop_reasons", "scrap", "api_tokens", "audit"], ["account_sums", "account_changes", "account_hours", "scrap_counters"], ["signal_samples"], ["health_reports", "stop_names", "gone"]];
        var path = Path.Combine(folder, HistoryDatabase.FileName);
        Ask($"VACUUM INTO '{path}'");
        using var connection = new SqliteConnection($"Data Source={path};Pooling=False");
        connection.Open();
        using var command = connection.CreateCommand();
        var numbers = version == 7 ? "DROP INDEX signal_samples_by_seq; ALTER TABLE signal_samples DROP COLUMN seq;" : "";
        var accounts = string.Concat(Watched.SelectMany(watched => watched.Changes.Select(change => $"DROP TRIGGER account_{watched.What}_{change};")));
        command.CommandText = (version < 6 ? accounts + "DROP VIEW account_change; " : "") + (version < 5 ? "DROP INDEX cycles_by_job;" : "") + numbers + string.Concat(added.Skip(version - 1).SelectMany(tables => tables).Select(table => $"DROP TABLE {table};")) + $"PRAGMA user_version = {version}";
        command.ExecuteNonQuery();
    }

    public async ValueTask DisposeAsync()
    {
        Writer.Complete();
        await _run;
        _database.Dispose();
        _temporary?.Dispose();
    }
}
