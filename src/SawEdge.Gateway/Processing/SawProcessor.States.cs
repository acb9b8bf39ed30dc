using SawEdge.Core.Oee;
using SawEdge.Core.Signals;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Processing;

/// <content>What the saw did, for the account of its time.</content>
internal sealed partial class SawProcessor
{
    /// <summary>How long segments are gathered before they are stored: with what the watch has not told yet, all of the timeline that a power cut can lose.</summary>
    private static readonly TimeSpan StatesInterval = TimeSpan.FromSeconds(10);

    private readonly StateWatch _states = new();
    private readonly List<StateSegment> _segments = [];
    private readonly ScrapWatch _scrap = new();
    private long? _scrapStored;
    private long _seenStoredAt;
    private DateTimeOffset? _statesUntil;

    private async Task RestoreStatesAsync(HistoryReader reader, CancellationToken cancellation)
    {
        if (await reader.LastStateAsync(_pipeline.Saw, cancellation) is { } last)
        {
            _states.Restore(last);
            _statesUntil = last.State == TimelineState.Unknown ? last.From : last.To;
        }

        _scrap.Value = _scrapStored = await reader.ScrapCountAsync(_pipeline.Saw, cancellation);
        _seenStoredAt = _time.GetTimestamp();
    }

    private void WatchState(in SignalFrame frame)
    {
        _states.Push(frame, _pipeline.Phase, _pipeline.IdleKw);
        _scrap.Push(frame);
    }

    private bool ScrapIsDue => _scrap.Value != _scrapStored;

    // Where the counter stands is stored with what it counted: after a power cut nothing is counted twice, and what it counted meanwhile is not lost.
    private async Task StoreScrapAsync(CancellationToken cancellation)
    {
        var entries = new List<ScrapEntry>();
        while (_scrap.TryTake(out var entry))
            entries.Add(entry);
        _scrapStored = _scrap.Value;
        await _history.SaveScrapCountAsync(_pipeline.Saw, _scrapStored!.Value, entries, cancellation);
    }

    private bool StatesAreDue => _states.Waiting > 0 && (_states.Waiting >= 64 || _time.GetElapsedTime(_seenStoredAt) >= StatesInterval);

    // Segments and samples together: what waits at the same time shares a transaction.
    private async Task StoreSeenAsync(CancellationToken cancellation)
    {
        while (_states.TryTake(out var segment))
            _segments.Add(segment);
        var samples = _samples?.StoreAsync(cancellation) ?? Task.CompletedTask;
        var states = _segments.Count > 0 ? _history.SaveStatesAsync(_pipeline.Saw, _segments.ToArray(), cancellation) : Task.CompletedTask;
        await Task.WhenAll(samples, states);
        _segments.Clear();
        _seenStoredAt = _time.GetTimestamp();
    }
}
