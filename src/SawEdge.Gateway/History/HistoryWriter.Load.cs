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
        var encoded = Encoded(cycles);
        await WriteAsync(
            (session, now) =>
            {
                // A transaction that failed is tried again, and counts again.
                changed = 0;
                foreach (var cycle in encoded)
                    changed += session.StoreRecord(cycle, now) ? 1 : 0;
            },
            cancellation);
        return changed;
    }

    /// <summary>Forgets the checkpoints of a saw after one of them.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="after">The moment of that one; null: all are forgotten.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <returns>False where that one is not there any more, because what lies before it was cleared away; then none is forgotten.</returns>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public async Task<bool> DropCheckpointsAsync(string saw, DateTimeOffset? after, CancellationToken cancellation)
    {
        var isThere = false;
        await WriteAsync((session, _) => isThere = session.DropCheckpoints(saw, after), cancellation);
        return isThere;
    }

    /// <summary>Stores a saw's state and leaves its open frames as they are.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="state">Its state.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task SaveMemoryAsync(string saw, SawState state, CancellationToken cancellation) =>
        WriteAsync((session, now) => session.StoreState(saw, state, now), cancellation);
}
