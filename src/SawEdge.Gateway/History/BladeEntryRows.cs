using Microsoft.Data.Sqlite;
using SawEdge.Core.Blades;

namespace SawEdge.Gateway.History;

/// <summary>
/// Writes what people say about blades. For any process, whether a gateway owns the folder or not: one short transaction
/// that waits its turn; a running gateway takes the entries over by itself.
/// </summary>
public static class BladeEntryRows
{
    /// <summary>The word for a row that says that another does not hold any more.</summary>
    internal const string Withdrawal = "withdrawal";

    private static readonly string[] Words = ["change", "no_change", "retire"];

    /// <summary>Withdraws entries and adds others, all or nothing.</summary>
    /// <param name="folder">The data folder; it holds a history of this program's version.</param>
    /// <param name="withdraw">Entries that do not hold any more.</param>
    /// <param name="add">New entries; their ids do not count.</param>
    /// <param name="now">When they are entered.</param>
    /// <exception cref="HistoryException">There is no history, or it cannot be written.</exception>
    public static void Write(string folder, IReadOnlyList<BladeEntry> withdraw, IReadOnlyList<BladeEntry> add, DateTimeOffset now)
    {
        OutsideWrite.Run(folder, (connection, transaction) =>
        {
            if (Write(connection, transaction, withdraw, add, now) is { } gone)
                throw new HistoryException($"The entry of {gone.At:yyyy-MM-dd HH:mm:ss}Z was withdrawn by somebody else at the same time; look again with 'blade list'.");
            return true;
        });
    }

    /// <summary>Withdraws entries and adds others within a transaction.</summary>
    /// <returns>Null, or an entry that was withdrawn already: then the transaction must not be kept.</returns>
    internal static BladeEntry? Write(SqliteConnection connection, SqliteTransaction? transaction, IReadOnlyList<BladeEntry> withdraw, IReadOnlyList<BladeEntry> add, DateTimeOffset now)
    {
        foreach (var entry in withdraw)
        {
            if (Withdraw(connection, transaction, entry.Id, now) == 0)
                return entry;
            Add(connection, transaction, entry, Withdrawal, now);
        }

        foreach (var entry in add)
            Add(connection, transaction, entry, Words[(int)entry.Kind], now);
        return null;
    }

    /// <summary>The kind for a word in the table; null for a row that is no entry of its own.</summary>
    internal static BladeEntryKind? Kind(string word) => Array.IndexOf(Words, word) is var index and >= 0 ? (BladeEntryKind)index : null;

    private static int Withdraw(SqliteConnection connection, SqliteTransaction? transaction, long id, DateTimeOffset now)
    {
        using var command = connection.CreateCommand();
        command.Transaction = transaction;
        command.CommandText = "UPDATE blade_entries SET withdrawn = @now WHERE id = @id AND withdrawn IS NULL";
        command.Parameters.AddWithValue("@now", now.ToUnixTimeMilliseconds());
        command.Parameters.AddWithValue("@id", id);
        return command.ExecuteNonQuery();
    }

    private static void Add(SqliteConnection connection, SqliteTransaction? transaction, BladeEntry entry, string kind, DateTimeOffset now)
    {
        using var command = connection.CreateCommand();
        command.Transaction = transaction;
        command.CommandText = "INSERT INTO blade_entries(saw, at, kind, blade, note, entered) VALUES(@saw, @at, @kind, @blade, @note, @entered)";
        command.Parameters.AddWithValue("@saw", entry.Saw);
        command.Parameters.AddWithValue("@at", entry.At.ToUnixTimeMilliseconds());
        command.Parameters.AddWithValue("@kind", kind);
        command.Parameters.AddWithValue("@blade", entry.Blade);
        command.Parameters.AddWithValue("@note", entry.Note);
        command.Parameters.AddWithValue("@entered", now.ToUnixTimeMilliseconds());
        command.ExecuteNonQuery();
    }
}
