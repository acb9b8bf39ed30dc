namespace SawEdge.Gateway.History;

/// <content>What points are made of besides the rows of others.</content>
public sealed partial class HistoryWriter
{
    /// <summary>Remembers reasons of stops that have a tag value of their own.</summary>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task SaveStopNamesAsync(IReadOnlyList<string> names, CancellationToken cancellation) =>
        WriteAsync(
            (session, _) =>
            {
                foreach (var name in names)
                    session.Points.StoreName(name);
            },
            cancellation);

    /// <summary>Stores a report about the gateway's health.</summary>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task SaveHealthAsync(HealthReport report, CancellationToken cancellation) => WriteAsync((session, _) => session.Points.Store(report), cancellation);

    /// <summary>Counts places at which a consumer found nothing any more, each once however often it comes to them.</summary>
    /// <param name="consumer">Its name.</param>
    /// <param name="places">The places, rising.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task CountGoneAsync(string consumer, IReadOnlyList<long> places, CancellationToken cancellation) =>
        WriteAsync((session, now) => session.Points.CountGone(consumer, places, now), cancellation);

    /// <summary>Deletes the oldest reports about the gateway's health; whoever wants to delete many asks again and again.</summary>
    /// <param name="before">Only those of moments before.</param>
    /// <param name="most">So many at most.</param>
    /// <param name="takers">Who is to have them before they go.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <returns>How many went; 0 where none is left that may go.</returns>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public async Task<int> DeleteHealthAsync(DateTimeOffset before, int most, Takers takers, CancellationToken cancellation)
    {
        var gone = 0;
        await WriteAsync((session, now) => gone = session.Points.DeleteReports(before.ToUnixTimeMilliseconds(), most, takers, now), cancellation);
        return gone;
    }
}
