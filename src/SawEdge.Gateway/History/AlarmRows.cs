using Microsoft.Data.Sqlite;
using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.History;

/// <summary>Alarms, their events, messages and answers to and from rows. What is not known or empty is NULL.</summary>
internal static class AlarmRows
{
    /// <summary>The columns of an occurrence, for a SELECT on <c>alarms AS a</c>.</summary>
    public static readonly string SelectAlarm = string.Join(", ", Columns.Select(column => "a." + column));

    /// <summary>Stores an occurrence as it is now; parameters as <see cref="Columns"/>, then <c>@closed</c>.</summary>
    public static readonly string Upsert =
        $"INSERT INTO alarms({string.Join(", ", Columns)}, closed) VALUES({string.Join(", ", Columns.Select(column => "@" + column))}, @closed) "
        + $"ON CONFLICT(number) DO UPDATE SET {string.Join(", ", Columns.Skip(1).Append("closed").Select(column => $"{column} = excluded.{column}"))}";

    /// <summary>The columns of an event, for a SELECT on <c>alarm_events AS e</c>.</summary>
    public const string SelectEvent = "e.id, e.at, e.kind, e.rule, e.subject_kind, e.subject, e.before, e.after, e.who, e.note, e.alarm";

    /// <summary>How many columns <see cref="SelectEvent"/> has.</summary>
    public const int EventColumns = 11;

    /// <summary>The columns of a message, for a SELECT on <c>notices AS n</c>.</summary>
    public const string SelectNotice = "n.id, n.at, n.kind, n.contact, n.channel, n.alarms";

    private static readonly string[] NoticeKinds = ["raised", "cleared", "reminder", "escalated", "digest", "test"];

    private static readonly string[] Actions =
        ["acknowledge", "reset", "shelve", "unshelve", "take_out_of_service", "return_to_service", "comment", "confirm", "reject"];

    /// <summary>The columns of an occurrence, in order; the first is the key.</summary>
    public static IReadOnlyList<string> Columns =>
    [
        "number", "rule", "subject_kind", "subject", "severity", "raised_at", "state", "active", "value", "limit_value", "unit", "text", "cause",
        "may_be", "caution", "cycle_id", "cleared_at", "acknowledged_at", "acknowledged_by", "shelved_until", "chattering", "activations", "verdict",
    ];

    /// <summary>The values of <see cref="Columns"/>, and whether the occurrence is closed.</summary>
    public static object[] Values(Alarm alarm) =>
    [
        alarm.Number, alarm.Rule, alarm.Subject.Kind.ToName(), alarm.Subject.Name, alarm.Severity.ToName(), Stored(alarm.RaisedAt), alarm.State.ToName(),
        alarm.IsActive, Stored(alarm.Value), Stored(alarm.Limit), Stored(alarm.Unit), alarm.Text, Stored(alarm.Cause),
        Stored(alarm.MayBe), Stored(alarm.Caution), Stored(alarm.CycleId), Stored(alarm.ClearedAt), Stored(alarm.AcknowledgedAt), Stored(alarm.AcknowledgedBy),
        Stored(alarm.ShelvedUntil), alarm.IsChattering, alarm.Activations, Stored(alarm.Verdict.ToName()), alarm.IsClosed,
    ];

    /// <summary>Reads an occurrence selected with <see cref="SelectAlarm"/>.</summary>
    /// <exception cref="InvalidDataException">A word in it is none that this program knows.</exception>
    public static Alarm ReadAlarm(SqliteDataReader row) => new()
    {
        Number = row.GetInt64(0),
        Rule = row.GetString(1),
        Subject = Subject(row, 2),
        Severity = Known(AlarmStates.Severity(row.GetString(4)), row, 4),
        RaisedAt = Time(row.GetInt64(5)),
        State = Known(AlarmStates.State(row.GetString(6)), row, 6),
        IsActive = row.GetBoolean(7),
        Value = Number(row, 8),
        Limit = Number(row, 9),
        Unit = Text(row, 10),
        Text = row.GetString(11),
        Cause = Text(row, 12),
        MayBe = Text(row, 13),
        Caution = Text(row, 14),
        CycleId = row.IsDBNull(15) ? null : row.GetString(15),
        ClearedAt = TimeOrNull(row, 16),
        AcknowledgedAt = TimeOrNull(row, 17),
        AcknowledgedBy = Text(row, 18),
        ShelvedUntil = TimeOrNull(row, 19),
        IsChattering = row.GetBoolean(20),
        Activations = row.GetInt32(21),
        Verdict = Known(AlarmStates.Verdict(Text(row, 22)), row, 22),
    };

    /// <summary>Reads an event selected with <see cref="SelectEvent"/>; null where a join found none.</summary>
    /// <param name="row">The row.</param>
    /// <param name="first">Ordinal of its first column.</param>
    /// <exception cref="InvalidDataException">It is damaged, or a word in it is none that this program knows.</exception>
    public static StoredAlarmEvent? ReadEvent(SqliteDataReader row, int first)
    {
        if (row.IsDBNull(first))
            return null;
        var happened = new AlarmEvent(
            Time(row.GetInt64(first + 1)),
            Known(AlarmStates.Event(row.GetString(first + 2)), row, first + 2),
            row.GetString(first + 3),
            Subject(row, first + 4),
            Known(AlarmStates.State(row.GetString(first + 6)), row, first + 6),
            Known(AlarmStates.State(row.GetString(first + 7)), row, first + 7),
            row.IsDBNull(first + 10) ? null : AlarmJson.Read(row.GetString(first + 10)),
            Text(row, first + 8),
            Text(row, first + 9));
        return new StoredAlarmEvent(row.GetInt64(first), happened);
    }

    /// <summary>Reads a message selected with <see cref="SelectNotice"/>; null where a join found none.</summary>
    /// <inheritdoc cref="ReadEvent(SqliteDataReader, int)"/>
    public static StoredNotice? ReadNotice(SqliteDataReader row, int first)
    {
        if (row.IsDBNull(first))
            return null;
        var kind = Known(Find<NoticeKind>(NoticeKinds, row.GetString(first + 2)), row, first + 2);
        return new StoredNotice(row.GetInt64(first), new Notice(Time(row.GetInt64(first + 1)), kind, row.GetString(first + 3), row.GetString(first + 4), AlarmJson.ReadNumbers(row.GetString(first + 5))));
    }

    /// <summary>The word for a kind of message.</summary>
    public static string Word(NoticeKind kind) => NoticeKinds[(int)kind];

    /// <summary>The word for what a person did.</summary>
    public static string Word(AlarmAction action) => Actions[(int)action];

    /// <summary>What a person did, by its word in a column.</summary>
    /// <exception cref="InvalidDataException">It is no word that this program knows.</exception>
    public static AlarmAction Action(SqliteDataReader row, int column) => Known(Find<AlarmAction>(Actions, row.GetString(column)), row, column);

    /// <summary>What something is about, from the columns of its kind and, behind it, its name; the default where both are NULL.</summary>
    /// <exception cref="InvalidDataException">The kind is no word that this program knows.</exception>
    public static AlarmSubject Subject(SqliteDataReader row, int column) =>
        row.IsDBNull(column) ? default : new AlarmSubject(Known(AlarmWords.SubjectKind(row.GetString(column)), row, column), row.GetString(column + 1));

    /// <summary>A text of a column; empty for NULL.</summary>
    public static string Text(SqliteDataReader row, int column) => row.IsDBNull(column) ? "" : row.GetString(column);

    /// <summary>A time of a column; null for NULL.</summary>
    public static DateTimeOffset? TimeOrNull(SqliteDataReader row, int column) => row.IsDBNull(column) ? null : Time(row.GetInt64(column));

    /// <summary>A text as it is stored.</summary>
    public static object Stored(string? text) => string.IsNullOrEmpty(text) ? DBNull.Value : text;

    /// <summary>A time as it is stored.</summary>
    public static object Stored(DateTimeOffset? time) => time is { } known ? known.ToUnixTimeMilliseconds() : DBNull.Value;

    private static object Stored(double number) => double.IsFinite(number) ? number : DBNull.Value;

    private static double Number(SqliteDataReader row, int column) => row.IsDBNull(column) ? double.NaN : row.GetDouble(column);

    private static DateTimeOffset Time(long milliseconds) => DateTimeOffset.FromUnixTimeMilliseconds(milliseconds);

    private static T Known<T>(T? value, SqliteDataReader row, int column)
        where T : struct => value ?? throw new InvalidDataException($"'{Text(row, column)}' is no {row.GetName(column)} of an alarm that this program knows.");

    private static T? Find<T>(string[] words, string word)
        where T : struct, Enum => Array.IndexOf(words, word) is var index and >= 0 ? (T)Enum.ToObject(typeof(T), index) : null;
}
