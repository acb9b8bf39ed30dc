using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.History;

/// <content>Questions about alarms.</content>
public sealed partial class HistoryReader
{
    /// <summary>What the alarms had to remember when they last stored anything; null where nothing was stored.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<AlarmMemory?> AlarmMemoryAsync(CancellationToken cancellation = default) => throw new NotImplementedException();

    /// <summary>Answers that the alarms have not dealt with yet, in order.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyList<StoredAnswer>> OpenAnswersAsync(CancellationToken cancellation = default) => throw new NotImplementedException();

    /// <summary>What became of an answer; null while nobody has dealt with it.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<AnswerOutcome?> AnswerOutcomeAsync(long id, CancellationToken cancellation = default) => throw new NotImplementedException();

    /// <summary>Occurrences, the latest first, page by page.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public IAsyncEnumerable<Alarm> AlarmsAsync(AlarmFilter filter, CancellationToken cancellation = default) => throw new NotImplementedException();

    /// <summary>One occurrence as it is now, or null.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<Alarm?> AlarmAsync(long number, CancellationToken cancellation = default) => throw new NotImplementedException();

    /// <summary>Events in the order in which they were stored, page by page.</summary>
    /// <param name="from">Only events at this moment or later; null: all.</param>
    /// <param name="to">Only events before this moment; null: all.</param>
    /// <param name="number">Only those of this occurrence; null: all.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public IAsyncEnumerable<StoredAlarmEvent> AlarmEventsAsync(DateTimeOffset? from, DateTimeOffset? to, long? number = null, CancellationToken cancellation = default) => throw new NotImplementedException();
}
