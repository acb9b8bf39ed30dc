using Microsoft.Data.Sqlite;
using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.History;

/// <summary>
/// Writes what people say about alarms. For any process, whether a gateway owns the folder or not; a running gateway
/// takes the answers over by itself and stores what became of them.
/// </summary>
public static class AlarmAnswerRows
{
    /// <summary>An answer given on the command line.</summary>
    public const string ViaCommand = "command";

    /// <summary>An answer given by a one-time link in a message.</summary>
    public const string ViaLink = "link";

    /// <summary>An answer given by the API.</summary>
    public const string ViaApi = "api";

    /// <summary>Stores an answer and gives its number back.</summary>
    internal const string Insert = "INSERT INTO alarm_answers(at, via, action, number, rule, subject_kind, subject, who, note, until) VALUES(@at, @via, @action, @number, @rule, @subject_kind, @subject, @who, @note, @until) RETURNING id";

    /// <summary>The columns of an answer, for a SELECT on <c>alarm_answers</c>.</summary>
    internal const string Select = "id, at, via, action, number, rule, subject_kind, subject, who, note, until";

    /// <summary>The names of the parameters of <see cref="Insert"/>.</summary>
    internal static string[] Parameters => ["@at", "@via", "@action", "@number", "@rule", "@subject_kind", "@subject", "@who", "@note", "@until"];

    /// <summary>Stores an answer for the gateway to deal with.</summary>
    /// <param name="folder">The data folder; it holds a history of this program's version.</param>
    /// <param name="answer">What was said.</param>
    /// <param name="via">How it came: <see cref="ViaCommand"/>, <see cref="ViaLink"/> or <see cref="ViaApi"/>.</param>
    /// <param name="now">When.</param>
    /// <returns>Its number, by which <see cref="HistoryReader.AnswerOutcomeAsync"/> tells what became of it.</returns>
    /// <exception cref="HistoryException">There is no history of this program's version, or it cannot be written.</exception>
    public static long Write(string folder, AlarmAnswer answer, string via, DateTimeOffset now)
    {
        var values = Values(answer, via, now.ToUnixTimeMilliseconds());
        return OutsideWrite.Run(folder, (connection, transaction) =>
        {
            using var command = OutsideWrite.Command(connection, transaction, Insert);
            foreach (var (name, value) in Parameters.Zip(values))
                command.Parameters.AddWithValue(name, value);
            return (long)command.ExecuteScalar()!;
        });
    }

    /// <summary>The values of <see cref="Parameters"/>.</summary>
    /// <exception cref="ArgumentException">Nobody is named, or it came by no known way.</exception>
    internal static object[] Values(AlarmAnswer answer, string via, long now)
    {
        if (answer.Who.Length == 0)
            throw new ArgumentException("An answer names the person who gives it; this one names nobody.", nameof(answer));
        if (via is not (ViaCommand or ViaLink or ViaApi))
            throw new ArgumentException($"An answer comes by '{ViaCommand}', '{ViaLink}' or '{ViaApi}'; this one by '{via}'.", nameof(via));
        var subject = answer.Subject.Name is { Length: > 0 };
        return
        [
            now, via, AlarmRows.Word(answer.Action), answer.Number == 0 ? DBNull.Value : answer.Number, AlarmRows.Stored(answer.Rule),
            subject ? answer.Subject.Kind.ToName() : DBNull.Value, subject ? answer.Subject.Name : DBNull.Value,
            answer.Who, AlarmRows.Stored(answer.Note), AlarmRows.Stored(answer.Until),
        ];
    }

    /// <summary>Reads an answer selected with <see cref="Select"/>.</summary>
    /// <exception cref="InvalidDataException">A word in it is none that this program knows.</exception>
    internal static StoredAnswer Read(SqliteDataReader row) => new(
        row.GetInt64(0),
        new AlarmAnswer(
            AlarmRows.Action(row, 3),
            row.IsDBNull(4) ? 0 : row.GetInt64(4),
            AlarmRows.Text(row, 5),
            AlarmRows.Subject(row, 6),
            row.GetString(8),
            AlarmRows.Text(row, 9),
            AlarmRows.TimeOrNull(row, 10)),
        DateTimeOffset.FromUnixTimeMilliseconds(row.GetInt64(1)),
        row.GetString(2));
}
