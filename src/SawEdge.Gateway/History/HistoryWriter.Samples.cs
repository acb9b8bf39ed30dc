namespace SawEdge.Gateway.History;

/// <content>Downsampled signals.</content>
public sealed partial class HistoryWriter
{
    /// <summary>Whether a destination is to be sent the samples that are stored from now on.</summary>
    public bool SamplesAreWanted { get; set; }

    /// <summary>Stores samples, all or nothing; one takes the place of that of the same saw and interval.</summary>
    /// <param name="samples">The samples; the list must not change until the task ends.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task SaveSamplesAsync(IReadOnlyList<SawSample> samples, CancellationToken cancellation) =>
        WriteAsync(
            (session, _) =>
            {
                foreach (var sample in samples)
                    session.Samples.Store(sample, SamplesAreWanted);
            },
            cancellation);

    /// <summary>Deletes the oldest samples, of whatever saw; whoever wants to delete many asks again and again, so that others get their turn in between.</summary>
    /// <param name="before">Only samples whose interval began before.</param>
    /// <param name="most">About so many at most: those of one moment go together.</param>
    /// <param name="takers">Who is to have them before they go.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <returns>How many went; 0 where none is left that may go.</returns>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public async Task<int> DeleteSamplesAsync(DateTimeOffset before, int most, Takers takers, CancellationToken cancellation)
    {
        var gone = 0;
        await WriteAsync((session, now) => gone = session.Samples.Delete(before.ToUnixTimeMilliseconds(), most, takers, session.Points, now), cancellation);
        return gone;
    }
}
