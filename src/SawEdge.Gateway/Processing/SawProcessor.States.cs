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
    private long _statesStoredAt;

    private async Task RestoreStatesAsync(HistoryReader reader, CancellationToken cancellation)
    {
        if (await reader.LastStateAsync(_pipeline.Saw, cancellation) is { } last)
            _states.Restore(last);
        _statesStoredAt = _time.GetTimestamp();
    }

    private void WatchState(in SignalFrame frame) => _states.Push(frame, _pipeline.Phase, _pipeline.IdleKw);

    private bool StatesAreDue => _states.Waiting > 0 && (_states.Waiting >= 64 || _time.GetElapsedTime(_statesStoredAt) >= StatesInterval);

    private async Task StoreStatesAsync(CancellationToken cancellation)
    {
        while (_states.TryTake(out var segment))
            _segments.Add(segment);
        if (_segments.Count > 0)
            await _history.SaveStatesAsync(_pipeline.Saw, _segments.ToArray(), cancellation);
        _segments.Clear();
        _statesStoredAt = _time.GetTimestamp();
    }
}
