using Microsoft.Data.Sqlite;

namespace SawEdge.Gateway.History;

/// <summary>
/// Writing by any process, whether a gateway owns the folder or not: one short transaction that waits its turn. A running
/// gateway finds by itself what was written.
/// </summary>
internal static class OutsideWrite
{
    // Seconds to wait while the gateway writes, whose transactions take milliseconds.
    private const int Patience = 10;

    /// <summary>Runs one transaction, all or nothing.</summary>
    /// <param name="folder">The data folder; it holds a history of this program's version.</param>
    /// <param name="write">Does the writing; what it throws undoes everything.</param>
    /// <returns>What the writing gave.</returns>
    /// <exception cref="HistoryException">There is no history of this program's version, or it cannot be written.</exception>
    public static T Run<T>(string folder, Func<SqliteConnection, SqliteTransaction, T> write)
    {
        var path = Path.Combine(Path.GetFullPath(folder), HistoryDatabase.FileName);
        try
        {
            using var connection = new SqliteConnection(new SqliteConnectionStringBuilder { DataSource = path, Mode = SqliteOpenMode.ReadWrite, Pooling = false, DefaultTimeout = Patience }.ToString());
            connection.Open();
            HistorySchema.RequireCurrent(connection, path);
            HistorySchema.Execute(connection, null, "PRAGMA synchronous = FULL");
            using var transaction = connection.BeginTransaction(deferred: false);
            var result = write(connection, transaction);
            transaction.Commit();
            return result;
        }
        catch (SqliteException e) when (SqliteTrouble.Classify(e) == TroubleKind.Damage)
        {
            throw new HistoryCorruptException(path, e.Message, e);
        }
        catch (SqliteException e)
        {
            throw new HistoryException($"The history '{path}' cannot be written: {SqliteTrouble.Describe(e)}.", e);
        }
    }

    /// <summary>A command of a transaction.</summary>
    public static SqliteCommand Command(SqliteConnection connection, SqliteTransaction? transaction, string sql, params ReadOnlySpan<(string Name, object Value)> parameters)
    {
        var command = connection.CreateCommand();
        command.Transaction = transaction;
        command.CommandText = sql;
        foreach (var (name, value) in parameters)
            command.Parameters.AddWithValue(name, value);
        return command;
    }
}
