using Microsoft.Extensions.Logging;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Hosting;

/// <summary>
/// Deletes downsampled signals that are older than they are to be kept, the oldest first, in bites so small that a finished cut never waits for
/// it; nothing else of the history.
/// </summary>
/// <param name="writer">The history.</param>
/// <param name="keep">How long they are kept.</param>
/// <param name="machine">The machine clock, by which they were taken.</param>
/// <param name="logger">Where it speaks.</param>
internal sealed class SampleKeeping(HistoryWriter writer, TimeSpan keep, TimeProvider machine, ILogger logger)
{
    /// <summary>Samples that are deleted in one transaction.</summary>
    public const int Bite = 500;

    private static readonly TimeSpan LookEvery = TimeSpan.FromMinutes(1);

    /// <summary>Works until cancelled.</summary>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    /// <exception cref="HistoryCorruptException">The history is damaged.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        using var look = new PeriodicTimer(LookEvery, machine);
        var inTrouble = false;
        do
        {
            try
            {
                await LookAsync(cancellation);
                inTrouble = false;
            }
            catch (HistoryException e) when (e is not HistoryCorruptException)
            {
                if (!inTrouble)
                    HostingLog.SamplesNotCleared(logger, e.Message);
                inTrouble = true;
            }
        }
        while (await look.WaitForNextTickAsync(cancellation));
    }

    /// <summary>Deletes once what is too old.</summary>
    /// <returns>How many samples went.</returns>
    /// <exception cref="HistoryException">The history cannot be written.</exception>
    public async Task<long> LookAsync(CancellationToken cancellation)
    {
        var before = machine.GetUtcNow() - keep;
        var gone = 0L;
        for (int some; (some = await writer.DeleteSamplesAsync(before, Bite, cancellation)) > 0;)
            gone += some;
        return gone;
    }
}
