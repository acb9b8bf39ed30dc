using SawEdge.Core.Signals;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Processing;

/// <content>Downsampled signals.</content>
internal sealed partial class SawProcessor
{
    /// <summary>How long samples of short intervals are gathered before they are stored; with the interval that is open, all of them that a power cut can lose.</summary>
    private static readonly TimeSpan SamplesInterval = TimeSpan.FromSeconds(10);

    /// <summary>Samples that are stored sooner, as when frames that had piled up come at once.</summary>
    private const int MostSamples = 64;

    private readonly SignalSampler? _sampler;
    private readonly List<SawSample> _samples = [];
    private long _samplesStoredAt;

    // Those of longer intervals at once. All saws' intervals end at the same moments, so they share one transaction.
    private bool SamplesAreDue => _sampler is { Waiting: > 0 and var waiting }
        && (waiting >= MostSamples || _sampler.Every >= SamplesInterval || _time.GetElapsedTime(_samplesStoredAt) >= SamplesInterval);

    private async Task OpenSampleAgainAsync(DateTimeOffset from, HistoryReader reader, CancellationToken cancellation)
    {
        await StoreSamplesAsync(cancellation);
        try
        {
            if (await reader.SampleAsync(_pipeline.Saw, from, _sampler!.Every, cancellation) is { } known)
                _sampler.Restore(known);
        }
        catch (InvalidDataException e)
        {
            ProcessingLog.SampleUnusable(_logger, _pipeline.Saw, from, e.Message);
        }
    }

    private async Task StoreSamplesAsync(CancellationToken cancellation)
    {
        while (_sampler is not null && _sampler.TryTake(out var sample))
            _samples.Add(new SawSample(_pipeline.Saw, sample));
        if (_samples.Count > 0)
            await _history.SaveSamplesAsync(_samples.ToArray(), cancellation);
        _samples.Clear();
        _samplesStoredAt = _time.GetTimestamp();
    }
}
