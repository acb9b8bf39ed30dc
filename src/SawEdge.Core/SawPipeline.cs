using System.Diagnostics.CodeAnalysis;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Core.Signals;

namespace SawEdge.Core;

/// <summary>What a saw's pipeline has learned: with the frames since the open cycle began, all that a restart needs.</summary>
public sealed record PipelineMemory
{
    /// <summary>What the detector learned.</summary>
    public required DetectorMemory Detector { get; init; }

    /// <summary>End of the last cycle that was handed out: frames up to it are not fed again.</summary>
    public DateTimeOffset? LastCycleEnd { get; init; }

    /// <summary>What the recorder learned.</summary>
    public RecorderMemory Recorder { get; init; } = new();

    /// <summary>What the live watch learned.</summary>
    public LiveWatchMemory Watch { get; init; } = new();
}

/// <summary>
/// Everything that happens to the frames of one saw, from the frame to the finished record. The one door that live
/// operation, replay and tests go through. Deterministic, no clock; one instance a saw; not thread safe.
/// </summary>
public sealed class SawPipeline
{
    /// <summary>Findings that are kept for their cuts, or for who takes them; the oldest give way.</summary>
    private const int MostFindings = 64;

    private readonly SawMachine _machine;
    private readonly CycleDetector _detector;
    private readonly LiveWatch _watch;
    private readonly Queue<FinishedCut> _finished = new();
    private readonly Queue<LiveFinding> _findings = new();
    private readonly List<LiveFinding> _ofOpenCuts = [];
    private JobBook _jobs;
    private string _liveJobId = "";
    private CutJob? _liveJob;
    private DateTimeOffset? _lastCycleEnd;
    private DateTimeOffset? _lookedAt;
    private DateTimeOffset? _leftOut;
    private string? _stockJob;
    private StockShape _stock;

    /// <summary>Builds the pipeline of one saw.</summary>
    /// <param name="machine">The saw.</param>
    /// <param name="jobs">The jobs.</param>
    /// <param name="blade">Identity of the blade where neither the controller nor a person says, or null.</param>
    /// <param name="settings">What a person set about the load score; null: nothing.</param>
    public SawPipeline(SawMachine machine, JobBook jobs, string? blade = null, LoadSettings? settings = null)
    {
        _machine = machine;
        _jobs = jobs;
        _watch = new LiveWatch(machine);
        Recorder = new CutRecorder(machine, settings ?? new LoadSettings(), blade);
        _detector = new CycleDetector
        {
            FirstCutOfBarIsTrim = machine.FirstCutOfBarIsTrim,
            Stock = StockOf,
            BladeLengthMm = job => _jobs.Find(job)?.Blade?.LengthMm ?? machine.BladeLengthMm ?? double.NaN,
        };
    }

    /// <summary>Name of the saw.</summary>
    public string Saw => _machine.Name;

    /// <summary>What makes records of finished cycles; another may take its place between two cycles, as after computing records anew.</summary>
    public CutRecorder Recorder { get; set; }

    /// <summary>What the saw is doing.</summary>
    public CyclePhase Phase => _detector.Phase;

    /// <summary>What the saw is taken to be doing, and why: for people; it reads the trace of the open cycle, so it is not for every frame.</summary>
    public CycleNow Now() => _detector.Now();

    /// <summary>Load with the blade in air as learned, kW; NaN: not known.</summary>
    public double IdleKw => _detector.IdleKw;

    /// <summary>Number of the open cycle, from 1 on in this run; 0 between cycles.</summary>
    public long OpenCycle => _detector.OpenCycle;

    /// <summary>The job of the open cycle, between cycles that at the controller; empty: not known.</summary>
    public string JobId => _liveJobId;

    /// <summary>That job in the job list; null where it is in none.</summary>
    public CutJob? Job => _liveJob;

    /// <summary>How far the cut of the open cycle is, as of the last frame.</summary>
    public LiveCut Cut => _detector.OpenCycle > 0 ? _watch.Cut : LiveCut.None;

    /// <summary>The controller's part counter as last read; null where it was never read.</summary>
    public long? PartCount => _detector.PartCount;

    /// <summary>Whether frames so far are still needed: a cycle is open or not handed out yet.</summary>
    public bool HasOpenEnds => _detector.HasOpenEnds;

    /// <inheritdoc cref="CycleDetector.RestsBetweenCycles"/>
    public bool RestsBetweenCycles => _detector.RestsBetweenCycles;

    /// <summary>Which cycles belong to another who watches the saw in turns with this one; null: none.</summary>
    public HandOver? HandOver { get; set; }

    /// <summary>Whether frames so far are still needed here: as <see cref="HasOpenEnds"/>, but not for an open cycle that belongs to another.</summary>
    public bool HasOwnOpenEnds => HandOver is { } handOver && _detector.OpenSince is { } start && handOver.IsOthers(start) ? _detector.IsSettling : HasOpenEnds;

    /// <inheritdoc cref="CycleDetector.NeededFrom"/>
    public DateTimeOffset? NeededFrom => _detector.NeededFrom;

    /// <summary>Whether the last frame was looked at; not where it had been seen before or came too late.</summary>
    public bool TookLast => _detector.TookLast;

    /// <summary>Frames left out because they had been seen before or came too late.</summary>
    public long DroppedFrames => _detector.DroppedFrames;

    /// <summary>The jobs; a new list holds from the next finished cycle on.</summary>
    public JobBook Jobs
    {
        get => _jobs;
        set
        {
            _jobs = value;
            _stockJob = null;
            _liveJob = value.Find(_liveJobId);
        }
    }

    /// <summary>Takes a frame. Finished cuts wait for <see cref="TryTake"/>, what cannot wait for <see cref="TryTakeFinding"/>.</summary>
    public void Push(in SignalFrame frame)
    {
        _detector.Push(frame);
        if (!_detector.TookLast)
            return;
        if (_detector.OpenJob != _liveJobId)
        {
            _liveJobId = _detector.OpenJob;
            _liveJob = _liveJobId.Length > 0 ? _jobs.Find(_liveJobId) : null;
        }

        _watch.Push(frame, new LiveContext(_detector.OpenCycle, _detector.IdleKw, _detector.BottomMm, _liveJobId, _liveJob));
        while (_watch.TryTake(out var finding))
            Keep(finding);
    }

    /// <summary>Says that no frame will ever follow, as at the end of a recording.</summary>
    public void Complete() => _detector.Complete();

    /// <summary>Takes the next finished cut, oldest first. A cut that was handed out may come again with a corrected record: it replaces the one before.</summary>
    public bool TryTake([NotNullWhen(true)] out FinishedCut? finished)
    {
        if (_finished.Count == 0 && TryTakeOwn(out var cut))
        {
            foreach (var made in Recorder.Take(new CutEvidence(cut, cut.Job.Length > 0 ? _jobs.Find(cut.Job) : null, FindingsOf(cut))))
                _finished.Enqueue(made);
        }

        if (!_finished.TryDequeue(out finished))
            return false;
        // The cut's own end, for that of the record is rounded: the frame at the end would be taken for one of the next cycle. A correction is of an older one.
        if (!finished.IsCorrection)
            _lastCycleEnd = finished.Evidence.Cut.EndedAt;
        return true;
    }

    /// <summary>Takes when a cycle began that was left out because it belongs to another; several are told as the latest.</summary>
    public bool TryTakeLeftOut(out DateTimeOffset startedAt)
    {
        startedAt = _leftOut ?? default;
        var any = _leftOut is not null;
        _leftOut = null;
        return any;
    }

    /// <summary>Takes the next finding of the live watch, oldest first. After a restart one of the open cycle may come again.</summary>
    public bool TryTakeFinding([NotNullWhen(true)] out LiveFinding? finding) => _findings.TryDequeue(out finding);

    /// <summary>What must survive a restart.</summary>
    public PipelineMemory Save() => new() { Detector = _detector.Save(), LastCycleEnd = _lastCycleEnd, Recorder = Recorder.Save(), Watch = _watch.Save() };

    /// <summary>Continues from what <see cref="Save"/> gave; before the first frame.</summary>
    /// <param name="memory">What was saved.</param>
    public void Restore(PipelineMemory memory)
    {
        _detector.Restore(memory.Detector);
        (_lastCycleEnd, _lookedAt) = (memory.LastCycleEnd, memory.Detector.LookedAt);
        Recorder.Restore(memory.Recorder);
        _watch.Restore(memory.Watch);
    }

    /// <inheritdoc cref="CycleDetector.Resume"/>
    public void Resume(DateTimeOffset? seenUntil = null) => _detector.Resume(seenUntil);

    /// <inheritdoc cref="CycleDetector.TryTakeUnseen"/>
    public bool TryTakeUnseen([NotNullWhen(true)] out UnseenParts? unseen)
    {
        while (_detector.TryTakeUnseen(out unseen))
        {
            if (HandOver?.WereSeenByOther(unseen) != true)
                return true;
        }

        return false;
    }

    /// <inheritdoc cref="CycleDetector.Note"/>
    public void Note(string words) => _detector.Note(words);

    /// <summary>Of stored frames those that are still to be fed after <see cref="Restore"/>: a cycle that was handed out is not read again.</summary>
    public IEnumerable<SignalFrame> NotHandedOut(IEnumerable<SignalFrame> frames)
    {
        if (_lastCycleEnd is not { } end)
            return frames;

        // Where the clock was set back since that cycle, earlier times are later ones.
        var all = frames.ToList();
        var first = 0;
        for (var i = 1; i < all.Count; i++)
        {
            if (all[i].Time < all[i - 1].Time - TimeSpan.FromSeconds(1))
                first = i;
        }

        return first > 0 || _lookedAt < end ? all.Skip(first) : all.SkipWhile(frame => frame.Time <= end);
    }

    private bool TryTakeOwn([NotNullWhen(true)] out Cut? cut)
    {
        while (_detector.TryTake(out cut))
        {
            if (HandOver is not { } handOver)
                return true;
            if (!handOver.IsOthers(cut.StartedAt))
            {
                if (cut.Before is { } before && handOver.WereSeenByOther(before))
                    cut = cut with { Before = null, Notes = [.. cut.Notes.Where(note => note != before.Words)] };
                return true;
            }

            (_lastCycleEnd, _leftOut) = (cut.EndedAt, cut.StartedAt);
            FindingsOf(cut);
        }

        return false;
    }

    // One cycle is looked at a few times, and the next one is mostly of the same job.
    private StockShape StockOf(string job)
    {
        if (job != _stockJob)
        {
            _stock = _jobs.Find(job) is { } found ? StockShape.Of(found.Section) : StockShape.Unknown;
            _stockJob = job;
        }

        return _stock;
    }

    private void Keep(LiveFinding finding)
    {
        if (_findings.Count == MostFindings)
            _findings.Dequeue();
        _findings.Enqueue(finding);
        if (_ofOpenCuts.Count == MostFindings)
            _ofOpenCuts.RemoveAt(0);
        _ofOpenCuts.Add(finding);
    }

    // What was found in the time of a cycle belongs to its cut; what is older belongs to none that was recorded.
    private LiveFinding[] FindingsOf(Cut cut)
    {
        if (_ofOpenCuts.Count == 0)
            return [];
        LiveFinding[] own = [.. _ofOpenCuts.Where(finding => finding.At >= cut.StartedAt && finding.At <= cut.EndedAt)];
        _ofOpenCuts.RemoveAll(finding => finding.At <= cut.EndedAt);
        return own;
    }
}
