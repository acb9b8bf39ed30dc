using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Core.Signals;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Processing.Alarms;

/// <summary>The rules about one saw behind its pipeline, in the saw's own loop: shows them what the pipeline saw, and brings what comes and goes to the desk without waiting.</summary>
/// <param name="watch">The rules about the saw.</param>
/// <param name="queue">The way to the desk.</param>
/// <param name="time">The machine clock.</param>
internal sealed class SawAlarms(SawAlarmWatch watch, AlarmQueue queue, TimeProvider time)
{
    private SawAlarmWatch _watch = watch;
    private SawAlarmWatch? _next;

    /// <summary>How old the last cut may be whose conditions are told again at a start: a power cut may have come between storing it and storing its alarm.</summary>
    public static readonly TimeSpan TellAgain = TimeSpan.FromMinutes(10);

    /// <summary>Whether the rules are to be exchanged before the next frame.</summary>
    public bool HasNewRules => Volatile.Read(ref _next) is not null;

    /// <summary>Says that other rules hold from now on; the saw's loop takes them over between two frames. For another thread.</summary>
    /// <param name="next">The rules about the same saw.</param>
    public void Offer(SawAlarmWatch next) => Volatile.Write(ref _next, next);

    /// <summary>Takes the rules over that were offered: what was seen for those that say the same goes on, the others begin as at a start.</summary>
    /// <inheritdoc cref="WarmAsync(HistoryReader, string, bool, CancellationToken)"/>
    public async Task RenewAsync(HistoryReader reader, string saw, bool isCutting, CancellationToken cancellation)
    {
        if (Interlocked.Exchange(ref _next, null) is not { } next)
            return;
        await WarmAsync(next, reader, saw, isCutting, cancellation);
        next.GoOnFrom(_watch);
        _watch = next;
        Tell();
    }

    /// <summary>Takes up the last cuts, so that conditions on several cuts go on.</summary>
    /// <param name="reader">The history.</param>
    /// <param name="saw">The saw.</param>
    /// <param name="isCutting">Whether a cycle was open when the gateway stopped.</param>
    /// <param name="cancellation">Ends it.</param>
    public async Task WarmAsync(HistoryReader reader, string saw, bool isCutting, CancellationToken cancellation)
    {
        await WarmAsync(_watch, reader, saw, isCutting, cancellation);
        Tell();
    }

    private async Task WarmAsync(SawAlarmWatch watch, HistoryReader reader, string saw, bool isCutting, CancellationToken cancellation)
    {
        var cuts = await reader.LastCutsAsync(saw, Math.Max(1, watch.Memory), cancellation);
        var now = time.GetUtcNow();
        foreach (var (i, cut) in cuts.Index())
        {
            // Telling how things are does no harm where it is known; but what is long past is no news, and what was found in a cut
            // that is still open must not be ended by the one before.
            if (i == cuts.Count - 1 && !isCutting && now - cut.Record.EndedAt < TellAgain)
                watch.Take(cut.Record, cut.Assessment);
            else
                watch.Warm(cut.Record, cut.Assessment);
        }
    }

    /// <summary>Shows a frame that the pipeline took.</summary>
    public void Push(in SignalFrame frame, SawPipeline pipeline)
    {
        _watch.Push(frame, pipeline.Phase, pipeline.IdleKw);
        Tell();
    }

    /// <summary>Shows a finding of the live _watch.</summary>
    public void Take(LiveFinding finding)
    {
        _watch.Take(finding);
        Tell();
    }

    /// <summary>Shows a finished cut that is on the disk.</summary>
    public void Take(CycleRecord record, LoadAssessment? assessment)
    {
        _watch.Take(record, assessment);
        Tell();
    }

    private void Tell()
    {
        while (_watch.TryTake(out var change))
            queue.Offer(change);
    }
}
