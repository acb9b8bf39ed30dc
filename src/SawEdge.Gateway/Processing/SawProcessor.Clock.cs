using System.Globalization;
using SawEdge.Core;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Processing;

/// <content>A clock that is set: frames follow it between two cycles, and records say so.</content>
internal sealed partial class SawProcessor
{
    private readonly Func<string?>? _doubt;
    private bool _wasOpen;

    // Before each frame. What waits has its time already, so the clock follows only where nothing does.
    private void LookAtClock()
    {
        if (_inbox.Clock is { } clock)
        {
            var step = clock.LookForStep();
            if (step != TimeSpan.Zero)
                _pipeline.Note(string.Create(CultureInfo.InvariantCulture, $"the gateway's clock was set {(step < TimeSpan.Zero ? "back" : "forward")} by {step.Duration().TotalSeconds:0.0} s; a cycle keeps the clock with which it began"));
            if (!_pipeline.HasOpenEnds && _inbox.Waiting == 0)
                clock.Follow();
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
