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
    private readonly SqliteCommand _close = prepare("UPDATE account_changes SET from_at = NULL, to_at = NULL WHERE saw = @saw AND version = @version", ["@saw", "@version"]);
    private readonly SqliteCommand _reopen = prepare("INSERT INTO account_change(saw, from_at, to_at) VALUES(@saw, @from, @to)", ["@saw", "@from", "@to"]);

    /// <summary>Whether nothing changed since a version was read.</summary>
    public bool IsVersion(string saw, long version) => WriteSession.Scalar(_version, saw) == version;

    /// <summary>Stores sums.</summary>
    public void Store(string saw, long settings, AccountSums sums) =>
        WriteSession.Run(_sums, saw, sums.Block.From.ToUnixTimeMilliseconds(), sums.Block.To.ToUnixTimeMilliseconds(), settings, sums.Needs.From.ToUnixTimeMilliseconds(), StateRows.Milliseconds(sums.Needs.To), AccountSumsCodec.Encode(sums.Parts));

    /// <summary>Stores the figures of an hour.</summary>
    public void Store(long settings, AccountHour hour)
    {
        var begin = hour.Hour.From.ToUnixTimeMilliseconds();
        WriteSession.Run(_hour, hour.Saw, begin, hour.Hour.To.ToUnixTimeMilliseconds(), settings, AccountSumsCodec.Encode([hour.Part]));
        WriteSession.Run(_sameHour, hour.Saw, begin, settings);
    }

    /// <summary>Closes a change unless another came.</summary>
    public void Close(AccountChange change) => WriteSession.Run(_close, change.Saw, change.Version);

    /// <summary>Opens a change.</summary>
    public void Reopen(string saw, Period time) => WriteSession.Run(_reopen, saw, time.From.ToUnixTimeMilliseconds(), time.To.ToUnixTimeMilliseconds());
}
