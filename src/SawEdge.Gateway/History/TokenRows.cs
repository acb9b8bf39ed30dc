using Microsoft.Data.Sqlite;

namespace SawEdge.Gateway.History;

/// <summary>
/// Who may use the API. Made and revoked by any process, whether a gateway owns the folder or not; a running gateway sees it at the
/// next request.
/// </summary>
public static class TokenRows
{
    /// <summary>The columns of a token.</summary>
    internal const string Select = "id, name, role, made, expires, revoked";

    /// <summary>Stores a token and who made it.</summary>
    /// <param name="folder">The data folder; it holds a history of this program's version.</param>
    /// <param name="name">Its name.</param>
    /// <param name="role">What it allows.</param>
    /// <param name="hash">SHA-256 of the token.</param>
    /// <param name="expires">From when on it does not hold any more; null: never.</param>
    /// <param name="audit">Who makes it.</param>
    /// <param name="now">When.</param>
    /// <returns>Whether it was made; not where one of this name holds.</returns>
    /// <exception cref="HistoryException">There is no history of this program's version, or it cannot be written.</exception>
    public static bool Make(string folder, string name, string role, byte[] hash, DateTimeOffset? expires, AuditEntry audit, DateTimeOffset now) =>
        OutsideWrite.Run(folder, (connection, transaction) =>
        {
            var made = now.ToUnixTimeMilliseconds();

            // The name of one that has expired is free again.
            using (var end = OutsideWrite.Command(connection, transaction, "UPDATE api_tokens SET revoked = expires WHERE name = @name AND revoked IS NULL AND expires <= @now", ("@name", name), ("@now", made)))
                end.ExecuteNonQuery();
            using var command = OutsideWrite.Command(
                connection,
                transaction,
                "INSERT INTO api_tokens(name, role, hash, made, expires) VALUES(@name, @role, @hash, @made, @expires) ON CONFLICT DO NOTHING",
                ("@name", name),
                ("@role", role),
                ("@hash", hash),
                ("@made", made),
                ("@expires", (object?)expires?.ToUnixTimeMilliseconds() ?? DBNull.Value));
            if (command.ExecuteNonQuery() == 0)
                return false;
            EntryRows.Add(connection, transaction, audit, made);
            return true;
        });

    /// <summary>Revokes a token and stores who did.</summary>
    /// <param name="folder">The data folder; it holds a history of this program's version.</param>
    /// <param name="name">Its name.</param>
    /// <param name="audit">Who revokes it.</param>
    /// <param name="now">When.</param>
    /// <returns>Whether one of this name held until now.</returns>
    /// <exception cref="HistoryException">There is no history of this program's version, or it cannot be written.</exception>
    public static bool Revoke(string folder, string name, AuditEntry audit, DateTimeOffset now) =>
        OutsideWrite.Run(folder, (connection, transaction) =>
        {
            using var command = OutsideWrite.Command(connection, transaction, "UPDATE api_tokens SET revoked = @now WHERE name = @name AND revoked IS NULL", ("@name", name), ("@now", now.ToUnixTimeMilliseconds()));
            if (command.ExecuteNonQuery() == 0)
                return false;
            EntryRows.Add(connection, transaction, audit, now.ToUnixTimeMilliseconds());
            return true;
        });

    /// <summary>Reads a row of <see cref="Select"/>.</summary>
    internal static StoredToken Read(SqliteDataReader row) => new(
        row.GetInt64(0),
        row.GetString(1),
        row.GetString(2),
        DateTimeOffset.FromUnixTimeMilliseconds(row.GetInt64(3)),
        AlarmRows.TimeOrNull(row, 4),
        AlarmRows.TimeOrNull(row, 5));
}
