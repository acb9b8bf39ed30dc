using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Processing;

/// <content>A saw that two gateways watch in turns.</content>
internal sealed partial class SawProcessor
{
    private long _leftOut;

    /// <summary>Cycles that were left out because they belong to the other gateway. Safe for any thread.</summary>
    public long LeftOut => Volatile.Read(ref _leftOut);

    // Before each frame that is of now. What a gateway reads at the moment in which it gives the saw away is still its own.
    private void LookAtHandOver(in SignalFrame frame)
    {
        if (!frame.HasAny)
            return;
        if (_pipeline.HandOver is null && LeavesOutWithin is { } within)
            _pipeline.HandOver = new HandOver(frame.Time, within);
        if (_pipeline.HandOver is { GivenAwayAt: null } handOver && Volatile.Read(ref _givesAway))
            handOver.GivenAwayAt = _lastTaken ?? frame.Time.AddTicks(-1);
        _lastTaken = frame.Time;
    }

    private void SayLeftOut()
    {
        if (!_pipeline.TryTakeLeftOut(out var startedAt))
            return;
        Volatile.Write(ref _leftOut, _leftOut + 1);
        ProcessingLog.LeftOut(_logger, _pipeline.Saw, startedAt);
    }
}
