using SawEdge.Core.Oee;

namespace SawEdge.Gateway.History;

/// <content>What is worked out from other tables.</content>
public sealed partial class HistoryWriter
{
    /// <summary>Stores sums of a saw, unless something changed since they were worked out.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="version">What <see cref="HistoryReader.AccountVersionAsync"/> said before that was read from which they were worked out.</param>
    /// <param name="settings">Of which calendar and rules they are.</param>
    /// <param name="sums">The sums.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <returns>Whether they are stored.</returns>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public async Task<bool> SaveAccountSumsAsync(string saw, long version, long settings, IReadOnlyList<AccountSums> sums, CancellationToken cancellation)
    {
        var stored = false;
        await WriteAsync(
            (session, _) =>
            {
                stored = session.Accounts.IsVersion(saw, version);
                if (!stored)
                    return;
                foreach (var one in sums)
                    session.Accounts.Store(saw, settings, one);
            },
            cancellation);
        return stored;
    }

    /// <summary>Stores the figures of hours; those that are as they were leave no trace.</summary>
    /// <param name="settings">Of which calendar and rules they are.</param>
    /// <param name="hours">The hours; their numbers do not count.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task SaveAccountHoursAsync(long settings, IReadOnlyList<AccountHour> hours, CancellationToken cancellation) =>
        WriteAsync(
            (session, _) =>
            {
                foreach (var hour in hours)
                    session.Accounts.Store(settings, hour);
            },
            cancellation);

    /// <summary>Takes up all changes: what comes from now on is a change of its own. What was taken up before and is not done is taken up with it.</summary>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task TakeAccountChangesAsync(CancellationToken cancellation) => WriteAsync((session, _) => session.Accounts.Take(), cancellation);

    /// <summary>Says that the figures of the hours of the change of a saw that was taken up were worked out.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task CloseAccountChangeAsync(string saw, CancellationToken cancellation) => WriteAsync((session, _) => session.Accounts.Close(saw), cancellation);

    /// <summary>Stores what a controller's scrap counter counted and where it stands, all or nothing.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="value">Where it stands.</param>
    /// <param name="entries">What it counted.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task SaveScrapCountAsync(string saw, long value, IReadOnlyList<ScrapEntry> entries, CancellationToken cancellation) =>
        WriteAsync(
            (session, now) =>
            {
                foreach (var entry in entries)
                    session.Do((connection, transaction) => EntryRows.Add(connection, transaction, saw, entry, DateTimeOffset.FromUnixTimeMilliseconds(now)));
                session.Accounts.StoreScrapCount(saw, value);
            },
            cancellation);

    /// <summary>Says that figures of a saw have to be worked out anew in a time although nothing changed there.</summary>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task ReopenAccountAsync(string saw, Period time, CancellationToken cancellation) =>
        WriteAsync((session, _) => session.Accounts.Reopen(saw, time), cancellation);
}
