using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.History;

/// <content>What the alarms write.</content>
public sealed partial class HistoryWriter
{
    /// <summary>Stores one step of the alarms, all or nothing: events with their occurrences and messages, each journalled, what must be remembered, and what became of answers.</summary>
    /// <param name="batch">The step.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task AppendAlarmsAsync(AlarmBatch batch, CancellationToken cancellation) => WriteAsync((session, now) => session.StoreAlarms(batch, now), cancellation);

    /// <summary>Stores an answer that came by a one-time link, and that the link is used, all or nothing.</summary>
    /// <param name="nonce">What tells this link from all others.</param>
    /// <param name="validUntil">When the link expires; its use is remembered for longer.</param>
    /// <param name="answer">What was said.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <returns>The answer's number, see <see cref="HistoryReader.AnswerOutcomeAsync"/>; null where the link was used before, and then nothing is stored.</returns>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public async Task<long?> UseLinkAsync(string nonce, DateTimeOffset validUntil, AlarmAnswer answer, CancellationToken cancellation)
    {
        ArgumentException.ThrowIfNullOrEmpty(nonce);
        long? id = null;
        await WriteAsync((session, now) => id = session.UseLink(nonce, validUntil, answer, now), cancellation);
        return id;
    }
}
