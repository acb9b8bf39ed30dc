using SawEdge.Core;
using SawEdge.Core.Load;
using SawEdge.Core.Signals;
using SawEdge.Evaluation.Population;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;

namespace SawEdge.Evaluation.Play;

/// <summary>Looks on while a saw is played, and decides when it is enough.</summary>
internal abstract class Onlooker
{
    /// <summary>A turn has begun; what is switched on now takes effect with the next one.</summary>
    public virtual void OnTurn(VirtualSaw saw, SawTruth truth)
    {
    }

    /// <summary>A frame was pushed.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="number">Its number.</param>
    /// <param name="time">Its time.</param>
    /// <param name="truth">The cycle that is being played.</param>
    public virtual void OnFrame(VirtualSaw saw, long number, DateTimeOffset time, SawTruth truth)
    {
    }

    /// <summary>The live watch found something.</summary>
    /// <param name="finding">What.</param>
    /// <param name="frame">Number of the frame after which it was there.</param>
    /// <param name="truth">The cycle that is being played.</param>
    public virtual void OnFinding(LiveFinding finding, long frame, SawTruth truth)
    {
    }

    /// <summary>A record came.</summary>
    /// <param name="cut">The record.</param>
    /// <param name="truth">What really happened.</param>
    /// <param name="again">Whether a record of the same cycle came before: it is a correction.</param>
    public abstract void OnCut(FinishedCut cut, SawTruth truth, bool again);

    /// <summary>Whether the run is over.</summary>
    public virtual bool IsDone => false;
}

/// <summary>What came of playing a saw.</summary>
/// <param name="Cycles">Cycles played.</param>
/// <param name="Frames">Frames pushed.</param>
/// <param name="Unmatched">Records that belong to no cycle.</param>
/// <param name="Corrections">Records that came again.</param>
internal sealed record RunCounts(long Cycles, long Frames, long Unmatched, long Corrections);

/// <summary>
/// Plays one saw through the pipeline as a gateway would, holds each record against the truth of its cycle, and shows both
/// to onlookers. Keeps a handful of cycles at a time.
/// </summary>
internal sealed class SawRun(SawDraw draw)
{
    // A record comes within seconds of its cycle, but where little is mapped it may wait for the next ones.
    private const int Remembered = 60;

    // Frames further from a cycle than this are not computed; nothing is decided there.
    private static readonly TimeSpan IdleMargin = TimeSpan.FromSeconds(6);

    private readonly List<SawTruth> _recent = [];
    private readonly HashSet<string> _seen = new(StringComparer.Ordinal);
    private long _unmatched;
    private long _corrections;

    /// <summary>The pipeline.</summary>
    public SawPipeline Pipeline { get; } = new(draw.Machine, draw.Mapping.Has(Signal.Job) ? draw.Jobs : Core.Cutting.JobBook.Empty);

    /// <summary>Plays until the onlookers have seen enough, at most for so many cycles.</summary>
    public RunCounts Play(long cycles, params IReadOnlyList<Onlooker> onlookers)
    {
        var saw = new VirtualSaw(draw.Options);
        var recording = new RecordingOptions { Interval = draw.Interval, Cycles = cycles, IdleMargin = IdleMargin, Jitter = 0.1, Seed = draw.Options.Seed };
        long frames = 0;
        long turn = 0;
        foreach (var frame in RecordingGenerator.Frames(saw, recording))
        {
            var truth = saw.Truth;
            if (truth.Cycle != turn)
            {
                turn = truth.Cycle;
                saw.TakeFinished();
                _recent.Add(truth);
                if (_recent.Count > Remembered)
                    _recent.RemoveAt(0);
                foreach (var onlooker in onlookers)
                    onlooker.OnTurn(saw, truth);
            }

            Pipeline.Push(frame);
            frames++;
            foreach (var onlooker in onlookers)
                onlooker.OnFrame(saw, frames, frame.Time, truth);
            Take(frames, truth, onlookers);
            if (onlookers.All(onlooker => onlooker.IsDone))
                break;
        }

        Pipeline.Complete();
        Take(frames, _recent[^1], onlookers);
        return new(turn, frames, _unmatched, _corrections);
    }

    private void Take(long frame, SawTruth current, IReadOnlyList<Onlooker> onlookers)
    {
        while (Pipeline.TryTakeFinding(out var finding))
        {
            foreach (var onlooker in onlookers)
                onlooker.OnFinding(finding, frame, current);
        }

        while (Pipeline.TryTake(out var cut))
        {
            var again = !_seen.Add(cut.Record.CycleId);
            if (again)
                _corrections++;
            if (TruthOf(cut) is not { } truth)
            {
                if (!again)
                    _unmatched++;
                continue;
            }

            foreach (var onlooker in onlookers)
                onlooker.OnCut(cut, truth, again);
        }
    }

    // The cycle that shares more than half of the shorter of the two with the record.
    private SawTruth? TruthOf(FinishedCut cut)
    {
        for (var i = _recent.Count - 1; i >= 0; i--)
        {
            var truth = _recent[i];
            var end = truth.Raised > truth.Ended ? truth.Raised.Value : truth.Ended;
            var from = cut.Record.StartedAt > truth.Started ? cut.Record.StartedAt : truth.Started;
            var to = cut.Record.EndedAt < end ? cut.Record.EndedAt : end;
            var shorter = Math.Min((cut.Record.EndedAt - cut.Record.StartedAt).TotalSeconds, (end - truth.Started).TotalSeconds);
            if ((to - from).TotalSeconds > 0.5 * shorter)
                return truth;
        }

        return null;
    }
}
