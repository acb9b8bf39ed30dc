namespace SawEdge.Gateway.History;

/// <content>What computing records anew writes.</content>
public sealed partial class HistoryWriter
{
    /// <summary>Replaces what is stored of cycles, where it differs, all or nothing; the saw's state and open frames stay as they are.</summary>
    /// <param name="cycles">The cycles.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <returns>How many differed in record, profile or assessment; those are in the journal again.</returns>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public async Task<int> CorrectAsync(IReadOnlyList<FinishedCycle> cycles, CancellationToken cancellation)
    {
        var changed = 0;
        await WriteAsync(
            (session, now) =>
            {
                // A transaction that failed is tried again, and counts again.
                changed = 0;
                foreach (var cycle in cycles)
                    changed += session.StoreRecord(cycle, now) ? 1 : 0;
            },
            cancellation);
        return changed;
    }

    /// <summary>Forgets the checkpoints of a saw after a moment.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="after">The moment; null: all of them.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task DropCheckpointsAsync(string saw, DateTimeOffset? after, CancellationToken cancellation) =>
        WriteAsync((session, _) => session.DropCheckpoints(saw, after), cancellation);

    /// <summary>Stores a saw's state and leaves its open frames as they are.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="state">Its state.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task SaveMemoryAsync(string saw, SawState state, CancellationToken cancellation) =>
        WriteAsync((session, now) => session.StoreState(saw, state, now), cancellation);
}
