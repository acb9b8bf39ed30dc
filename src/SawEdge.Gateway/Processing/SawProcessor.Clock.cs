using System.Globalization;
using SawEdge.Core;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Processing;

/// <content>A clock that is set: frames follow it between two cycles, and records say so.</content>
internal sealed partial class SawProcessor
{
    private readonly Func<string?>? _doubt;
    private readonly ClockShift? _shift;
    private bool _wasOpen;

    // Before each frame, and with what the frames before it tell: a frame that begins a cycle has the same clock as those after it.
    private void LookAtClock(ref SignalFrame frame)
    {
        if (_shift is not null)
        {
            var step = _shift.LookForStep();
            if (step != TimeSpan.Zero)
                _pipeline.Note(string.Create(CultureInfo.InvariantCulture, $"the gateway's clock was set {(step < TimeSpan.Zero ? "back" : "forward")} by {step.Duration().TotalSeconds:0.0} s; a cycle keeps the clock with which it began"));
            if (_pipeline.RestsBetweenCycles)
                _shift.Follow();
            frame.Time += _shift.Value;
        }

        var isOpen = _pipeline.HasOpenEnds;
        if (isOpen && !_wasOpen && _doubt?.Invoke() is { } doubt)
            _pipeline.Note($"the gateway's clock is not to be trusted: {doubt}");
        _wasOpen = isOpen;
    }

    // By a clock that was set back a cycle may begin in the very millisecond of another: neither takes the other's place, here or at a destination.
    private static async Task KeepApartAsync(List<FinishedCut> finished, HistoryReader reader, CancellationToken cancellation)
    {
        for (var i = 0; i < finished.Count; i++)
        {
            while (!finished[i].IsCorrection && (finished.Take(i).Any(other => other.Record.CycleId == finished[i].Record.CycleId) || await reader.HasCycleAsync(finished[i].Record.CycleId, cancellation)))
                finished[i] = finished[i].Later();
        }
    }
}
