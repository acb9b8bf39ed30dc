using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.History;

/// <content>The health of the alarms.</content>
public sealed partial class HistoryReader
{
    /// <summary>Takes stock of the alarms of the last days, from the first cycle or event that the history holds on.</summary>
    /// <param name="days">How many days.</param>
    /// <param name="clock">The end of the period, or the last that the history holds where that is later: a saw's clock may be ahead, as in the demo.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <returns>What was found; null where the history holds nothing yet.</returns>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="InvalidDataException">What is stored is none that this program knows.</exception>
    public async Task<AlarmHealth?> AlarmHealthAsync(int days, DateTimeOffset clock, CancellationToken cancellation = default)
    {
        if (await SpanAsync(cancellation) is not var (first, last))
            return null;
        var now = last >= clock ? last.AddMilliseconds(1) : clock;

        // Days before anything was watched were not quiet, they were not seen.
        var from = now.AddDays(-days) is var begin && begin > first ? begin : first;
        var events = new List<AlarmEvent>();
        await foreach (var stored in AlarmEventsAsync(from, now, null, cancellation))
            events.Add(stored.Event);
        var occurrences = new List<Alarm>();
        await foreach (var alarm in AlarmsAsync(new AlarmFilter { To = now }, cancellation))
        {
            if (alarm.RaisedAt >= from || alarm.ClearedAt is null || alarm.ClearedAt >= from)
                occurrences.Add(alarm);
        }

        return AlarmHealth.Of(events, occurrences, from, now);
    }

    // The first and the last moment that the history knows of; null where it is empty. Of cycles that run at once, the one that began last need not end last.
    private Task<(DateTimeOffset First, DateTimeOffset Last)?> SpanAsync(CancellationToken cancellation) =>
        AskAsync(
            connection => Rows(
                connection,
                """
                SELECT min(first), max(last) FROM (
                    SELECT min(started_at) AS first, (SELECT max(ended_at) FROM (SELECT ended_at FROM cycles ORDER BY started_at DESC LIMIT 500)) AS last FROM cycles
                    UNION ALL SELECT min(at), max(at) FROM alarm_events)
                """,
                row => row.IsDBNull(0) ? ((DateTimeOffset, DateTimeOffset)?)null : (Time(row.GetInt64(0)), Time(row.GetInt64(1))))[0],
            cancellation);
}
