namespace SawEdge.Gateway.History;

/// <content>What the alarms write.</content>
public sealed partial class HistoryWriter
{
    /// <summary>Stores one step of the alarms, all or nothing: events with their occurrences and messages, each journalled, what must be remembered, and what became of answers.</summary>
    /// <param name="batch">The step.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task AppendAlarmsAsync(AlarmBatch batch, CancellationToken cancellation) => throw new NotImplementedException();
}
