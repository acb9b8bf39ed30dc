using SawEdge.Core.Oee;

namespace SawEdge.Gateway.History;

/// <content>What saws did.</content>
public sealed partial class HistoryWriter
{
    /// <summary>Stores segments of what a saw did, all or nothing; one takes the place of that with the same begin.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="segments">The segments.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task SaveStatesAsync(string saw, IReadOnlyList<StateSegment> segments, CancellationToken cancellation) =>
        WriteAsync(
            (session, _) =>
            {
                foreach (var segment in segments)
                    session.StoreSegment(saw, segment);
            },
            cancellation);
}
