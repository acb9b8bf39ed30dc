using Microsoft.Data.Sqlite;
using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.History;

/// <summary>The prepared commands of a <see cref="WriteSession"/> that write alarms.</summary>
internal sealed class AlarmStatements
{
    // An expired link is refused for that alone; its use is remembered longer, so that a clock that is set back opens nothing.
    private static readonly TimeSpan LinkMemory = TimeSpan.FromDays(30);

    private readonly SqliteCommand _alarm;
    private readonly SqliteCommand _event;
    private readonly SqliteCommand _notice;
    private readonly SqliteCommand _memory;
    private readonly SqliteCommand _close;
    private readonly SqliteCommand _answer;
    private readonly SqliteCommand _useLink;
    private readonly SqliteCommand _forgetLinks;

    /// <summary>Prepares the commands.</summary>
    /// <param name="prepare">Makes a command of SQL and the names of its parameters; owns it.</param>
    public AlarmStatements(PrepareCommand prepare)
    {
        _alarm = prepare(AlarmRows.Upsert, [.. AlarmRows.Columns.Append("closed").Select(column => "@" + column)]);
        _event = prepare(
            "INSERT INTO alarm_events(at, kind, rule, subject_kind, subject, number, before, after, who, note, alarm) VALUES(@at, @kind, @rule, @subject_kind, @subject, @number, @before, @after, @who, @note, @alarm) RETURNING id",
            "@at", "@kind", "@rule", "@subject_kind", "@subject", "@number", "@before", "@after", "@who", "@note", "@alarm");
        _notice = prepare("INSERT INTO notices(at, kind, contact, channel, alarms) VALUES(@at, @kind, @contact, @channel, @alarms) RETURNING id", "@at", "@kind", "@contact", "@channel", "@alarms");
        _memory = prepare("INSERT OR REPLACE INTO alarm_memory(id, board, plan, updated) VALUES(1, @board, @plan, @updated)", "@board", "@plan", "@updated");
        _close = prepare("UPDATE alarm_answers SET done = @done, problem = @problem WHERE id = @id AND done IS NULL", "@done", "@problem", "@id");
        _answer = prepare(AlarmAnswerRows.Insert, AlarmAnswerRows.Parameters);
        _useLink = prepare("INSERT INTO used_links(nonce, used, valid_until) VALUES(@nonce, @used, @valid_until) ON CONFLICT(nonce) DO NOTHING", "@nonce", "@used", "@valid_until");
        _forgetLinks = prepare("DELETE FROM used_links WHERE valid_until < @before AND used < @before", "@before");
    }

    /// <summary>Makes a command.</summary>
    public delegate SqliteCommand PrepareCommand(string sql, params string[] parameters);

    /// <summary>Stores an event, and its occurrence as it is after it.</summary>
    /// <returns>The event's number.</returns>
    public long Store(AlarmEvent happened)
    {
        if (happened.Alarm is { } alarm)
            WriteSession.Run(_alarm, AlarmRows.Values(alarm));
        return WriteSession.Scalar(
            _event,
            happened.At.ToUnixTimeMilliseconds(),
            happened.Kind.ToName(),
            happened.Rule,
            happened.Subject.Kind.ToName(),
            happened.Subject.Name,
            (object?)happened.Alarm?.Number ?? DBNull.Value,
            happened.Before.ToName(),
            happened.After.ToName(),
            AlarmRows.Stored(happened.Who),
            AlarmRows.Stored(happened.Note),
            happened.Alarm is null ? DBNull.Value : AlarmJson.Write(happened.Alarm));
    }

    /// <summary>Stores a message.</summary>
    /// <returns>The message's number.</returns>
    public long Store(Notice notice) =>
        WriteSession.Scalar(_notice, notice.At.ToUnixTimeMilliseconds(), AlarmRows.Word(notice.Kind), notice.Contact, notice.Channel, AlarmJson.Write(notice.Alarms));

    /// <summary>Stores what the alarms must remember.</summary>
    public void Store(AlarmMemory memory, long now) => WriteSession.Run(_memory, memory.Board, memory.Plan, now);

    /// <summary>Stores what became of an answer.</summary>
    public void Close(AnswerOutcome outcome, long now) => WriteSession.Run(_close, now, AlarmRows.Stored(outcome.Problem), outcome.Id);

    /// <summary>Stores an answer that came by a one-time link.</summary>
    /// <returns>The answer's number; null where the link was used before, and then nothing is stored.</returns>
    public long? UseLink(string nonce, DateTimeOffset validUntil, AlarmAnswer answer, long now)
    {
        WriteSession.Run(_forgetLinks, now - (long)LinkMemory.TotalMilliseconds);
        return WriteSession.Run(_useLink, nonce, now, validUntil.ToUnixTimeMilliseconds()) == 0
            ? null
            : WriteSession.Scalar(_answer, AlarmAnswerRows.Values(answer, AlarmAnswerRows.ViaLink, now));
    }
}
