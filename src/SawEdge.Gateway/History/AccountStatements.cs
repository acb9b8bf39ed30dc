using Microsoft.Data.Sqlite;
using SawEdge.Core.Oee;

namespace SawEdge.Gateway.History;

/// <summary>The writer's commands for what is worked out from other tables.</summary>
internal sealed class AccountStatements(Func<string, string[], SqliteCommand> prepare)
{
    private readonly SqliteCommand _version = prepare("SELECT ifnull((SELECT version FROM account_changes WHERE saw = @saw), 0)", ["@saw"]);
    private readonly SqliteCommand _sums = prepare(
        "INSERT OR REPLACE INTO account_sums(saw, begins_at, ends_at, settings, needs_from, needs_to, data) VALUES(@saw, @begins, @ends, @settings, @from, @to, @data)",
        ["@saw", "@begins", "@ends", "@settings", "@from", "@to", "@data"]);

    private readonly SqliteCommand _hour = prepare(
        """
        INSERT INTO account_hours(saw, begins_at, ends_at, settings, seq, data) VALUES(@saw, @begins, @ends, @settings, (SELECT ifnull(max(seq), 0) + 1 FROM account_hours), @data)
        ON CONFLICT(saw, begins_at) DO UPDATE SET ends_at = excluded.ends_at, data = excluded.data, seq = excluded.seq, settings = excluded.settings
        WHERE (account_hours.ends_at, account_hours.data) IS NOT (excluded.ends_at, excluded.data)
        """,
        ["@saw", "@begins", "@ends", "@settings", "@data"]);

    private readonly SqliteCommand _sameHour = prepare("UPDATE account_hours SET settings = @settings WHERE saw = @saw AND begins_at = @begins AND settings <> @settings", ["@saw", "@begins", "@settings"]);
    private readonly SqliteCommand _emptyHour = prepare(
        """
        UPDATE account_hours SET ends_at = @ends, data = @data, seq = (SELECT max(seq) + 1 FROM account_hours), settings = @settings
        WHERE saw = @saw AND begins_at = @begins AND (ends_at, data) IS NOT (@ends, @data)
        """,
        ["@saw", "@begins", "@ends", "@settings", "@data"]);

    private readonly SqliteCommand _hourAsItWas = prepare("SELECT data FROM account_hours WHERE saw = @saw AND begins_at = @begins", ["@saw", "@begins"]);
    private readonly SqliteCommand _take = prepare(
        """
        UPDATE account_changes SET work_from = min(ifnull(work_from, from_at), from_at), work_to = max(ifnull(work_to, to_at), to_at), from_at = NULL, to_at = NULL
        WHERE from_at IS NOT NULL
        """,
        []);

    private readonly SqliteCommand _close = prepare("UPDATE account_changes SET work_from = NULL, work_to = NULL WHERE saw = @saw", ["@saw"]);
    private readonly SqliteCommand _scrapCount = prepare("INSERT OR REPLACE INTO scrap_counters(saw, value) VALUES(@saw, @value)", ["@saw", "@value"]);
    private readonly SqliteCommand _reopen = prepare("INSERT INTO account_change(saw, from_at, to_at) VALUES(@saw, @from, @to)", ["@saw", "@from", "@to"]);

    /// <summary>Whether nothing changed since a version was read.</summary>
    public bool IsVersion(string saw, long version) => WriteSession.Scalar(_version, saw) == version;

    /// <summary>Stores sums.</summary>
    public void Store(string saw, long settings, AccountSums sums) =>
        WriteSession.Run(_sums, saw, sums.Block.From.ToUnixTimeMilliseconds(), sums.Block.To.ToUnixTimeMilliseconds(), settings, sums.Needs.From.ToUnixTimeMilliseconds(), StateRows.Milliseconds(sums.Needs.To), AccountSumsCodec.Encode(sums.Parts));

    /// <summary>Stores the figures of an hour.</summary>
    public void Store(long settings, AccountHour hour)
    {
        // An hour in which nothing was planned, nothing made and no state began is told only where it was something before.
        var begin = hour.Hour.From.ToUnixTimeMilliseconds();
        var isEmpty = hour.Part.Buckets.PlannedBusyTime == TimeSpan.Zero && hour.Part.Buckets[OeeCount.PartsOutside] == 0 && hour.Begins.Count == 0;
        var whole = hour;
        if (WriteSession.Value(_hourAsItWas, hour.Saw, begin) is byte[] data)
            whole = hour.After(AccountHourCodec.Decode(hour.Saw, hour.Hour, 0, data));
        WriteSession.Run(isEmpty ? _emptyHour : _hour, hour.Saw, begin, hour.Hour.To.ToUnixTimeMilliseconds(), settings, AccountHourCodec.Encode(whole));
        WriteSession.Run(_sameHour, hour.Saw, begin, settings);
    }

    /// <summary>Takes up all changes.</summary>
    public void Take() => WriteSession.Run(_take);

    /// <summary>Closes the change of a saw that was taken up.</summary>
    public void Close(string saw) => WriteSession.Run(_close, saw);

    /// <summary>Stores where a scrap counter stands.</summary>
    public void StoreScrapCount(string saw, long value) => WriteSession.Run(_scrapCount, saw, value);

    /// <summary>Opens a change.</summary>
    public void Reopen(string saw, Period time) => WriteSession.Run(_reopen, saw, time.From.ToUnixTimeMilliseconds(), time.To.ToUnixTimeMilliseconds());
}
