using System.Globalization;
using SawEdge.Core.Oee;

namespace SawEdge.Gateway.History;

/// <content>What people entered.</content>
public sealed partial class HistoryReader
{
    /// <summary>The reasons that hold for stops of a saw in a period, in the order in which they were entered.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="period">The period.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyList<StoredStopReason>> StopReasonsAsync(string saw, Period period, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<StoredStopReason>>(
            connection => Rows(
                connection,
                $"SELECT {EntryRows.SelectReason} FROM stop_reasons WHERE saw = @saw AND from_at < @to AND to_at > @from AND withdrawn IS NULL ORDER BY id",
                EntryRows.ReadReason,
                ("@saw", saw),
                ("@from", period.From.ToUnixTimeMilliseconds()),
                ("@to", StateRows.Milliseconds(period.To))),
            cancellation);

    /// <summary>One reason that holds, or null.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<StoredStopReason?> StopReasonAsync(long id, CancellationToken cancellation = default) =>
        AskAsync(connection => Rows(connection, $"SELECT {EntryRows.SelectReason} FROM stop_reasons WHERE id = @id AND withdrawn IS NULL", EntryRows.ReadReason, ("@id", id)).FirstOrDefault(), cancellation);

    /// <summary>The reasons that people gave before, each with its class, those used most first: what a page offers.</summary>
    /// <param name="most">Reasons at most.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyList<StopMeaning>> UsedStopReasonsAsync(int most, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<StopMeaning>>(
            connection => Rows(
                connection,
                string.Create(CultureInfo.InvariantCulture, $"SELECT reason, class FROM stop_reasons WHERE withdrawn IS NULL GROUP BY reason, class ORDER BY count(*) DESC, reason, class LIMIT {most}"),
                row => new StopMeaning(row.GetString(0), StopClassNames.Parse(row.GetString(1)))),
            cancellation);

    /// <summary>Entries about scrap that hold: those of the cuts of a saw that touch a period, and those without a cut that are of it, in the order of their times.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="period">The period.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyList<StoredScrap>> ScrapAsync(string saw, Period period, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<StoredScrap>>(
            connection => Rows(
                connection,
                $"""
                SELECT {EntryRows.SelectScrap} FROM scrap AS s WHERE s.saw = @saw AND s.withdrawn IS NULL AND (
                    s.cycle_id IS NULL AND s.at >= @from AND s.at < @to
                    OR s.cycle_id IS NOT NULL AND EXISTS(SELECT 1 FROM cycles AS c WHERE c.cycle_id = s.cycle_id AND c.started_at < @to AND c.ended_at > @from))
                ORDER BY s.at, s.id
                """,
                EntryRows.ReadScrap,
                ("@saw", saw),
                ("@from", period.From.ToUnixTimeMilliseconds()),
                ("@to", StateRows.Milliseconds(period.To))),
            cancellation);

    /// <summary>One entry about scrap that holds, or null.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<StoredScrap?> ScrapAsync(long id, CancellationToken cancellation = default) =>
        AskAsync(connection => Rows(connection, $"SELECT {EntryRows.SelectScrap} FROM scrap WHERE id = @id AND withdrawn IS NULL", EntryRows.ReadScrap, ("@id", id)).FirstOrDefault(), cancellation);

    /// <summary>The reasons for scrap that people gave before, those used most first.</summary>
    /// <param name="most">Reasons at most.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyList<string>> UsedScrapReasonsAsync(int most, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<string>>(
            connection => Rows(
                connection,
                string.Create(CultureInfo.InvariantCulture, $"SELECT reason FROM scrap WHERE withdrawn IS NULL AND reason IS NOT NULL GROUP BY reason ORDER BY count(*) DESC, reason LIMIT {most}"),
                row => row.GetString(0)),
            cancellation);

    /// <summary>The token with a hash, revoked and expired ones too; null where there is none.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<StoredToken?> TokenAsync(byte[] hash, CancellationToken cancellation = default) =>
        AskAsync(connection => Rows(connection, $"SELECT {TokenRows.Select} FROM api_tokens WHERE hash = @hash", TokenRows.Read, ("@hash", hash)).FirstOrDefault(), cancellation);

    /// <summary>All tokens, in the order in which they were made.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyList<StoredToken>> TokensAsync(CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<StoredToken>>(connection => Rows(connection, $"SELECT {TokenRows.Select} FROM api_tokens ORDER BY id", TokenRows.Read), cancellation);

    /// <summary>The audit trail, the latest first.</summary>
    /// <param name="from">Only at this moment or later; null: all.</param>
    /// <param name="to">Only before this moment; null: all.</param>
    /// <param name="before">Only those with a smaller number; null: all.</param>
    /// <param name="most">Entries at most.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyList<StoredAudit>> AuditAsync(DateTimeOffset? from, DateTimeOffset? to, long? before, int most, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<StoredAudit>>(
            connection => Rows(
                connection,
                $"SELECT {EntryRows.SelectAudit} FROM audit WHERE at >= @from AND at < @to AND id < @before ORDER BY id DESC LIMIT @most",
                EntryRows.ReadAudit,
                ("@from", from?.ToUnixTimeMilliseconds() ?? long.MinValue),
                ("@to", to?.ToUnixTimeMilliseconds() ?? long.MaxValue),
                ("@before", before ?? long.MaxValue),
                ("@most", most)),
            cancellation);
}
