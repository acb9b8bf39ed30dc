using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Hosting;

/// <summary>Watches loops: one that ends although nobody asked it to takes the whole gateway down, in order.</summary>
/// <param name="stop">Asks all of them to end; cancelled here where one fails.</param>
/// <param name="failed">Told why one ended that was not asked to.</param>
/// <param name="logger">Where it speaks.</param>
internal sealed class LoopGuard(CancellationTokenSource stop, Action<Exception> failed, ILogger logger)
{
    /// <summary>Asks all loops to end.</summary>
    public CancellationToken Stop => stop.Token;

    /// <summary>Watches a loop that ends with all others.</summary>
    /// <param name="what">What it does, in words.</param>
    /// <param name="loop">The loop.</param>
    /// <returns>Ends with the loop, and never fails.</returns>
    public Task WatchAsync(string what, Task loop) => WatchOneAsync(what, loop, CancellationToken.None);

    /// <summary>Watches a loop that may be asked to end while the others go on.</summary>
    /// <param name="what">What it does, in words.</param>
    /// <param name="loop">The loop.</param>
    /// <param name="asked">Cancelled where it is asked.</param>
    /// <returns>Ends with the loop, and never fails.</returns>
    public async Task WatchOneAsync(string what, Task loop, CancellationToken asked)
    {
        try
        {
            await loop;
            if (!stop.IsCancellationRequested && !asked.IsCancellationRequested)
                throw new InvalidOperationException($"{what} ended although nobody asked it to.");
        }
        catch (OperationCanceledException) when (stop.IsCancellationRequested || asked.IsCancellationRequested)
        {
            // Asked to end.
        }
        catch (Exception e)
        {
            failed(e);
            HostingLog.LoopEnded(logger, what, e);
            await stop.CancelAsync();
        }
    }
}
