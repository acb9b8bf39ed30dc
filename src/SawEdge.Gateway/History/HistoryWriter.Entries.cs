using SawEdge.Core.Alarms;
using SawEdge.Core.Blades;
using SawEdge.Core.Oee;

namespace SawEdge.Gateway.History;

/// <content>What people enter while the gateway runs, each with its entry in the audit trail, all or nothing.</content>
public sealed partial class HistoryWriter
{
    /// <summary>Stores why a saw stood.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="reason">What was said.</param>
    /// <param name="audit">Who said it.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <returns>The entry's number.</returns>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task<long> EnterStopReasonAsync(string saw, StopReason reason, AuditEntry audit, CancellationToken cancellation) =>
        EnterAsync(audit, (session, _) => session.Do((connection, transaction) => EntryRows.Add(connection, transaction, saw, reason)), _ => true, cancellation);

    /// <summary>Stores parts that are not good.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="entry">The entry.</param>
    /// <param name="audit">Who told it; null: no person did.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <returns>The entry's number; null where the cut is scrap already, and then nothing is stored.</returns>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task<long?> EnterScrapAsync(string saw, ScrapEntry entry, AuditEntry? audit, CancellationToken cancellation) =>
        EnterAsync(audit, (session, now) => session.Do((connection, transaction) => EntryRows.Add(connection, transaction, saw, entry, DateTimeOffset.FromUnixTimeMilliseconds(now))), id => id is not null, cancellation);

    /// <summary>Withdraws a reason of a stop.</summary>
    /// <param name="id">The entry.</param>
    /// <param name="audit">Who withdraws it.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <returns>Whether it held until now.</returns>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task<bool> WithdrawStopReasonAsync(long id, AuditEntry audit, CancellationToken cancellation) => WithdrawAsync("stop_reasons", id, audit, cancellation);

    /// <summary>Withdraws an entry about scrap.</summary>
    /// <inheritdoc cref="WithdrawStopReasonAsync"/>
    public Task<bool> WithdrawScrapAsync(long id, AuditEntry audit, CancellationToken cancellation) => WithdrawAsync("scrap", id, audit, cancellation);

    /// <summary>Stores what a person says about an alarm, for the desk to deal with.</summary>
    /// <param name="answer">What was said.</param>
    /// <param name="audit">Who said it.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <returns>The answer's number, see <see cref="HistoryReader.AnswerOutcomeAsync"/>.</returns>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task<long> AnswerAsync(AlarmAnswer answer, AuditEntry audit, CancellationToken cancellation) =>
        EnterAsync(
            audit,
            (session, now) => session.Do((connection, transaction) =>
            {
                using var command = OutsideWrite.Command(connection, transaction, AlarmAnswerRows.Insert);
                foreach (var (name, value) in AlarmAnswerRows.Parameters.Zip(AlarmAnswerRows.Values(answer, AlarmAnswerRows.ViaApi, now)))
                    command.Parameters.AddWithValue(name, value);
                return (long)command.ExecuteScalar()!;
            }),
            _ => true,
            cancellation);

    /// <summary>Stores what a person says about blades.</summary>
    /// <param name="add">The entries; their ids do not count.</param>
    /// <param name="audit">Who says it.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task EnterBladesAsync(IReadOnlyList<BladeEntry> add, AuditEntry audit, CancellationToken cancellation) =>
        EnterAsync(
            audit,
            (session, now) => session.Do((connection, transaction) => BladeEntryRows.Write(connection, transaction, [], add, DateTimeOffset.FromUnixTimeMilliseconds(now))),
            _ => true,
            cancellation);

    private Task<bool> WithdrawAsync(string table, long id, AuditEntry audit, CancellationToken cancellation) =>
        EnterAsync(audit, (session, now) => session.Do((connection, transaction) => EntryRows.Withdraw(connection, transaction, table, id, audit.Who, now)), done => done, cancellation);

    // What was not done leaves no trace: there is nothing to account for.
    private async Task<T> EnterAsync<T>(AuditEntry? audit, Func<WriteSession, long, T> enter, Func<T, bool> isDone, CancellationToken cancellation)
    {
        T result = default!;
        await WriteAsync(
            (session, now) =>
            {
                result = enter(session, now);
                if (audit is not null && isDone(result))
                {
                    session.Do((connection, transaction) =>
                    {
                        EntryRows.Add(connection, transaction, audit, now);
                        return true;
                    });
                }
            },
            cancellation);
        return result;
    }
}
