using System.Collections.Concurrent;
using Microsoft.Extensions.Logging;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Hosting;

/// <summary>How much each consumer of the journal has refused for good in the last 24 hours, looked up now and then.</summary>
/// <param name="reader">The history.</param>
/// <param name="consumers">Their names.</param>
/// <param name="time">The wall clock.</param>
/// <param name="logger">Where it speaks.</param>
internal sealed class RefusalCounts(HistoryReader reader, IReadOnlyList<string> consumers, TimeProvider time, ILogger logger)
{
    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(10);
    private static readonly TimeSpan Window = TimeSpan.FromHours(24);

    private readonly ConcurrentDictionary<string, long> _counts = new(StringComparer.Ordinal);
    private bool _inTrouble;

    /// <summary>The count of a consumer; NaN while it is not known.</summary>
    public double Of(string consumer) => _counts.TryGetValue(consumer, out var count) ? count : double.NaN;

    /// <summary>Looks until cancelled.</summary>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        using var look = new PeriodicTimer(LookEvery, time);
        do
            await LookAsync(cancellation);
        while (await look.WaitForNextTickAsync(cancellation));
    }

    private async Task LookAsync(CancellationToken cancellation)
    {
        try
        {
            var since = time.GetUtcNow() - Window;
            foreach (var consumer in consumers)
                _counts[consumer] = await reader.CountRefusedAsync(consumer, since, cancellation);
            _inTrouble = false;
        }
        catch (HistoryException e) when (e is not HistoryCorruptException)
        {
            if (!_inTrouble)
                HostingLog.RefusalsUnread(logger, e.Message);
            _inTrouble = true;
        }
    }
}
