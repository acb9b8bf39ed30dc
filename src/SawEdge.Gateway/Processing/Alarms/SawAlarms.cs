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
    /// <summary>How old the last cut may be whose conditions are told again at a start: a power cut may have come between storing it and storing its alarm.</summary>
    public static readonly TimeSpan TellAgain = TimeSpan.FromMinutes(10);

    /// <summary>Takes up the last cuts, so that conditions on several cuts go on.</summary>
    /// <param name="reader">The history.</param>
    /// <param name="saw">The saw.</param>
    /// <param name="isCutting">Whether a cycle was open when the gateway stopped.</param>
    /// <param name="cancellation">Ends it.</param>
    public async Task WarmAsync(HistoryReader reader, string saw, bool isCutting, CancellationToken cancellation)
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

        Tell();
    }

    /// <summary>Shows a frame that the pipeline took.</summary>
    public void Push(in SignalFrame frame, SawPipeline pipeline)
    {
        watch.Push(frame, pipeline.Phase, pipeline.IdleKw);
        Tell();
    }

    /// <summary>Shows a finding of the live watch.</summary>
    public void Take(LiveFinding finding)
    {
        watch.Take(finding);
        Tell();
    }

    /// <summary>Shows a finished cut that is on the disk.</summary>
    public void Take(CycleRecord record, LoadAssessment? assessment)
    {
        watch.Take(record, assessment);
        Tell();
    }

    private void Tell()
    {
        while (watch.TryTake(out var change))
            queue.Offer(change);
    }
}
