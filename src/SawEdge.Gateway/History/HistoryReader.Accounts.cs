using SawEdge.Core.Oee;

namespace SawEdge.Gateway.History;

/// <summary>A change of a saw that was taken up, and of which the figures of the hours are to be worked out.</summary>
/// <param name="Saw">The saw.</param>
/// <param name="Time">From the first to the last moment of it.</param>
public sealed record AccountChange(string Saw, Period Time);

/// <content>What was worked out from other tables and still holds.</content>
public sealed partial class HistoryReader
{
    /// <summary>A number that rises with each change of what an account of a saw is made of.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<long> AccountVersionAsync(string saw, CancellationToken cancellation = default) =>
        AskAsync(connection => Rows(connection, "SELECT version FROM account_changes WHERE saw = @saw", row => row.GetInt64(0), ("@saw", saw)).FirstOrDefault(), cancellation);

    /// <summary>The sums of blocks of a saw that lie within a period, in order.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="period">The period.</param>
    /// <param name="settings">Of which calendar and rules.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="InvalidDataException">What is stored are no sums of a known version.</exception>
    public Task<IReadOnlyList<(Period Block, IReadOnlyList<AccountPart> Parts)>> AccountSumsAsync(string saw, Period period, long settings, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<(Period, IReadOnlyList<AccountPart>)>>(
            connection => Rows(
                connection,
                "SELECT begins_at, ends_at, data FROM account_sums WHERE saw = @saw AND begins_at >= @from AND begins_at < @to AND ends_at <= @to AND settings = @settings ORDER BY begins_at",
                row => (new Period(Time(row.GetInt64(0)), Time(row.GetInt64(1))), AccountSumsCodec.Decode((byte[])row[2])),
                ("@saw", saw),
                ("@from", period.From.ToUnixTimeMilliseconds()),
                ("@to", period.To.ToUnixTimeMilliseconds()),
                ("@settings", settings)),
            cancellation);

    /// <summary>The changes that were taken up and are not done yet.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyList<AccountChange>> AccountChangesAsync(CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<AccountChange>>(
            connection => Rows(connection, "SELECT saw, work_from, work_to FROM account_changes WHERE work_from IS NOT NULL ORDER BY saw", row => new AccountChange(row.GetString(0), new Period(Time(row.GetInt64(1)), Time(row.GetInt64(2))))),
            cancellation);

    /// <summary>From the first to the last hour of a saw whose figures are of another calendar or of other rules; null where there is none.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="settings">Those that hold.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<Period?> OtherAccountHoursAsync(string saw, long settings, CancellationToken cancellation = default) =>
        AskAsync(
            connection => Rows(
                connection,
                "SELECT min(begins_at), max(ends_at) FROM account_hours WHERE saw = @saw AND settings <> @settings HAVING count(*) > 0",
                row => (Period?)new Period(Time(row.GetInt64(0)), Time(row.GetInt64(1))),
                ("@saw", saw),
                ("@settings", settings)).FirstOrDefault(),
            cancellation);

    /// <summary>The end of the last hour of a saw of which figures are stored; null where there is none.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<DateTimeOffset?> AccountHoursEndAsync(string saw, CancellationToken cancellation = default) =>
        AskAsync(connection => Rows(connection, "SELECT ends_at FROM account_hours WHERE saw = @saw ORDER BY begins_at DESC LIMIT 1", row => (DateTimeOffset?)Time(row.GetInt64(0)), ("@saw", saw)).FirstOrDefault(), cancellation);

    /// <summary>The hours that are new or changed after a number, in that order.</summary>
    /// <param name="after">The last that was dealt with; 0 for the beginning.</param>
    /// <param name="most">Hours at most.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="InvalidDataException">What is stored are no figures of a known version.</exception>
    public Task<IReadOnlyList<AccountHour>> AccountHoursAsync(long after, int most, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<AccountHour>>(
            connection => Rows(
                connection,
                "SELECT saw, begins_at, ends_at, data, seq FROM account_hours WHERE seq > @after ORDER BY seq LIMIT @most",
                row => AccountHourCodec.Decode(row.GetString(0), new Period(Time(row.GetInt64(1)), Time(row.GetInt64(2))), row.GetInt64(4), (byte[])row[3]),
                ("@after", after),
                ("@most", most)),
            cancellation);

    /// <summary>From the begin of the first to the end of the last cycle of a saw that touches a period; null where none does.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<Period?> CycleEndsAsync(string saw, Period period, CancellationToken cancellation = default) =>
        AskAsync(
            connection => Rows(
                connection,
                $"SELECT min(c.started_at), max(c.ended_at) FROM cycles AS c WHERE {CyclesTouching} HAVING count(*) > 0",
                row => (Period?)new Period(Time(row.GetInt64(0)), Time(row.GetInt64(1))),
                ("@saw", saw),
                ("@from", period.From.ToUnixTimeMilliseconds()),
                ("@to", StateRows.Milliseconds(period.To))).FirstOrDefault(),
            cancellation);

    /// <summary>A controller's scrap counter as it was last read; null where it never was.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<long?> ScrapCountAsync(string saw, CancellationToken cancellation = default) =>
        AskAsync(connection => Rows(connection, "SELECT value FROM scrap_counters WHERE saw = @saw", row => (long?)row.GetInt64(0), ("@saw", saw)).FirstOrDefault(), cancellation);

    /// <summary>The number of the hour that changed last; 0 where there is none.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<long> LastAccountHourAsync(CancellationToken cancellation = default) =>
        AskAsync(connection => HistorySchema.Number(connection, "SELECT ifnull(max(seq), 0) FROM account_hours"), cancellation);
}
