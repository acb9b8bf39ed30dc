namespace SawEdge.Gateway.History;

/// <content>Clearing away and giving back.</content>
public sealed partial class HistoryWriter
{
    /// <summary>Deletes the details of the oldest cycles of a stretch; their records stay, with score and likely cause. Whoever wants to delete many asks again and again, so that others get their turn in between.</summary>
    /// <param name="block">The stretch.</param>
    /// <param name="most">Cycles at most.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <returns>Of how many cycles; 0 where none is left, or where records are being computed anew.</returns>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    internal async Task<int> ClearDetailsAsync(DetailBlock block, int most, CancellationToken cancellation)
    {
        var gone = 0;
        await WriteAsync((session, _) => gone = session.Space.Clear(block, most), cancellation);
        return gone;
    }

    /// <summary>Gives free pages back to the disk.</summary>
    /// <param name="most">Pages at most; each may mean that another page is moved.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <returns>How many; 0 where none is free or the file cannot.</returns>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public async Task<long> GiveBackAsync(int most, CancellationToken cancellation)
    {
        var given = 0L;
        await WriteAsync((session, _) => given = session.Space.GiveBack(most), cancellation);
        return given;
    }
}
