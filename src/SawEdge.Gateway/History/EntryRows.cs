using System.Text.Json;
using Microsoft.Data.Sqlite;
using SawEdge.Core.Oee;

namespace SawEdge.Gateway.History;

/// <summary>What people enter: reasons of stops, scrap, and who changed what. Nothing is deleted; a withdrawn row stays.</summary>
internal static class EntryRows
{
    /// <summary>The columns of a reason.</summary>
    public const string SelectReason = "id, saw, from_at, to_at, reason, class, who, entered";

    /// <summary>The columns of an entry about scrap.</summary>
    public const string SelectScrap = "id, saw, at, cycle_id, quantity, job, reason, who, entered";

    /// <summary>The columns of an entry of the audit trail.</summary>
    public const string SelectAudit = "id, at, who, origin, action, subject, detail";

    /// <summary>Stores a reason.</summary>
    /// <returns>Its number.</returns>
    public static long Add(SqliteConnection connection, SqliteTransaction? transaction, string saw, StopReason reason)
    {
        using var command = OutsideWrite.Command(
            connection,
            transaction,
            "INSERT INTO stop_reasons(saw, from_at, to_at, reason, class, who, entered) VALUES(@saw, @from, @to, @reason, @class, @who, @entered) RETURNING id",
            ("@saw", saw),
            ("@from", reason.Time.From.ToUnixTimeMilliseconds()),
            ("@to", reason.Time.To.ToUnixTimeMilliseconds()),
            ("@reason", reason.Reason),
            ("@class", reason.Class.ToName()),
            ("@who", reason.Who),
            ("@entered", reason.EnteredAt.ToUnixTimeMilliseconds()));
        return (long)command.ExecuteScalar()!;
    }

    /// <summary>Stores an entry about scrap.</summary>
    /// <returns>Its number; null where the cut is scrap already.</returns>
    public static long? Add(SqliteConnection connection, SqliteTransaction? transaction, string saw, ScrapEntry entry, DateTimeOffset entered)
    {
        using var command = OutsideWrite.Command(
            connection,
            transaction,
            "INSERT INTO scrap(saw, at, cycle_id, quantity, job, reason, who, entered) VALUES(@saw, @at, @cycle, @quantity, @job, @reason, @who, @entered) ON CONFLICT DO NOTHING RETURNING id",
            ("@saw", saw),
            ("@at", entry.At.ToUnixTimeMilliseconds()),
            ("@cycle", (object?)entry.CycleId ?? DBNull.Value),
            ("@quantity", entry.Quantity),
            ("@job", StateRows.TextOrNull(entry.Job)),
            ("@reason", StateRows.TextOrNull(entry.Reason)),
            ("@who", entry.Who),
            ("@entered", entered.ToUnixTimeMilliseconds()));
        return (long?)command.ExecuteScalar();
    }

    /// <summary>Withdraws a row of <c>stop_reasons</c> or <c>scrap</c>.</summary>
    /// <returns>Whether it held until now.</returns>
    public static bool Withdraw(SqliteConnection connection, SqliteTransaction? transaction, string table, long id, string who, long now)
    {
        using var command = OutsideWrite.Command(
            connection, transaction, $"UPDATE {table} SET withdrawn = @now, withdrawn_by = @who WHERE id = @id AND withdrawn IS NULL", ("@now", now), ("@who", who), ("@id", id));
        return command.ExecuteNonQuery() > 0;
    }

    /// <summary>Stores an entry of the audit trail.</summary>
    public static void Add(SqliteConnection connection, SqliteTransaction? transaction, AuditEntry entry, long now)
    {
        using var command = OutsideWrite.Command(
            connection,
            transaction,
            "INSERT INTO audit(at, who, origin, action, subject, detail) VALUES(@at, @who, @origin, @action, @subject, @detail)",
            ("@at", now),
            ("@who", entry.Who),
            ("@origin", entry.Origin),
            ("@action", entry.Action),
            ("@subject", entry.Subject),
            ("@detail", entry.Detail));
        command.ExecuteNonQuery();
    }

    /// <summary>Reads a row of <see cref="SelectReason"/>.</summary>
    public static StoredStopReason ReadReason(SqliteDataReader row) => new(
        row.GetInt64(0),
        row.GetString(1),
        new StopReason(new Period(Time(row.GetInt64(2)), Time(row.GetInt64(3))), row.GetString(4), StopClassNames.Parse(row.GetString(5)), Time(row.GetInt64(7)), row.GetString(6)));

    /// <summary>Reads a row of <see cref="SelectScrap"/>.</summary>
    public static StoredScrap ReadScrap(SqliteDataReader row) => new(
        row.GetInt64(0),
        row.GetString(1),
        new ScrapEntry(Time(row.GetInt64(2)), row.IsDBNull(3) ? null : row.GetString(3), row.GetInt32(4), AlarmRows.Text(row, 5), AlarmRows.Text(row, 6), row.GetString(7)),
        Time(row.GetInt64(8)));

    /// <summary>Reads a row of <see cref="SelectAudit"/>.</summary>
    public static StoredAudit ReadAudit(SqliteDataReader row) =>
        new(row.GetInt64(0), Time(row.GetInt64(1)), new AuditEntry(row.GetString(2), row.GetString(3), row.GetString(4), row.GetString(5), row.GetString(6)));

    /// <summary>The detail of an entry of the audit trail: what is not null, as JSON.</summary>
    public static string Detail(params IReadOnlyList<(string Name, object? Value)> values) =>
        JsonSerializer.Serialize(values.Where(value => value.Value is not null).ToDictionary(value => value.Name, value => value.Value));

    private static DateTimeOffset Time(long milliseconds) => DateTimeOffset.FromUnixTimeMilliseconds(milliseconds);
}
