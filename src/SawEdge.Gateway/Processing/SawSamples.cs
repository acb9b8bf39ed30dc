using Microsoft.Extensions.Logging;
using SawEdge.Core.Signals;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Processing;

/// <summary>
/// Draws the frames of one saw together and stores what comes of it; the same in live operation and replay. An interval that is begun again,
/// after a start or because the clock was set back, goes on with what is stored of it, so that each sample holds all frames of its interval
/// that were stored, and none twice.
/// </summary>
/// <param name="saw">The saw.</param>
/// <param name="every">Length of the intervals.</param>
/// <param name="history">Where samples go.</param>
/// <param name="logger">Where it speaks.</param>
internal sealed class SawSamples(string saw, TimeSpan every, HistoryWriter history, ILogger logger)
{
    /// <summary>How long samples of shorter intervals are gathered before they are stored: what, with the interval that is open, a power cut can lose of them.</summary>
    private static readonly TimeSpan Gather = TimeSpan.FromSeconds(10);

    /// <summary>Samples that are stored sooner, as when frames that had piled up come at once.</summary>
    private const int Most = 64;

    private readonly SignalSampler _sampler = new(every);

    /// <summary>Samples that wait for <see cref="StoreAsync"/>.</summary>
    public int Waiting => _sampler.Waiting;

    /// <summary>
    /// Whether samples are to be stored now. Those of intervals that are not short are at once: the intervals of all saws end at the same moments,
    /// so they share a transaction.
    /// </summary>
    /// <param name="sinceStored">Time since the last were.</param>
    public bool AreDue(TimeSpan sinceStored) => Waiting > 0 && (Waiting >= Most || every >= Gather || sinceStored >= Gather);

    /// <summary>Takes a frame; waits for the history only where an interval is begun again.</summary>
    /// <exception cref="HistoryException">The history cannot be read or written.</exception>
    public ValueTask PushAsync(in SignalFrame frame, HistoryReader reader, CancellationToken cancellation)
    {
        if (_sampler.IsOpenedAgainBy(frame))
            return new ValueTask(PushAgainAsync(frame, reader, cancellation));
        _sampler.Push(frame);
        return ValueTask.CompletedTask;
    }

    /// <summary>Lets the interval that is open be stored as far as it was seen, as before a stop.</summary>
    public void Complete() => _sampler.Complete();

    /// <summary>Stores what waits.</summary>
    /// <exception cref="HistoryException">It cannot be stored.</exception>
    public Task StoreAsync(CancellationToken cancellation)
    {
        if (Waiting == 0)
            return Task.CompletedTask;
        var samples = new List<SawSample>(Waiting);
        while (_sampler.TryTake(out var sample))
            samples.Add(new SawSample(saw, sample));
        return history.SaveSamplesAsync(samples, cancellation);
    }

    private async Task PushAgainAsync(SignalFrame frame, HistoryReader reader, CancellationToken cancellation)
    {
        await StoreAsync(cancellation);
        var from = _sampler.IntervalOf(frame.Time);
        try
        {
            if (await reader.SampleAsync(saw, from, every, cancellation) is { } known)
                _sampler.Restore(known);
        }
        catch (InvalidDataException e)
        {
            ProcessingLog.SampleUnusable(logger, saw, from, e.Message);
        }

        _sampler.Push(frame);
    }
}
