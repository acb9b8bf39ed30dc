using SawEdge.Core;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;

namespace SawEdge.Torture.Plant;

/// <summary>
/// One saw's pipeline that is killed and started anew as the gateway is, without a process and without a disk: records are kept in the moment they
/// are finished, the memory with them and when a cycle opens or is over, and of the frames of an open cycle what was stored every two seconds.
/// </summary>
internal sealed class RestartedSaw
{
    private static readonly TimeSpan StoreInterval = TimeSpan.FromSeconds(2);
    private const int LookBack = 256;

    private readonly List<SignalFrame> _recent = [];
    private readonly List<SignalFrame> _unsaved = [];
    private readonly List<SignalFrame> _stored = [];
    private SawPipeline _pipeline = New();
    private PipelineMemory? _memory;
    private DateTimeOffset _storedAt;
    private bool _storing;

    /// <summary>The finished cycles.</summary>
    public List<Cut> Cuts { get; } = [];

    /// <summary>What it knows of parts that no record states yet.</summary>
    public DetectorMemory Memory => _pipeline.Save().Detector;

    /// <summary>Takes a frame.</summary>
    public void Push(in SignalFrame frame)
    {
        var before = Cuts.Count;
        Take(frame);
        while (_pipeline.TryTakeUnseen(out _))
        {
        }

        var due = frame.Time - _storedAt >= StoreInterval;
        if (Cuts.Count > before)
            StoreFinished(frame.Time);
        else if (_pipeline.HasOpenEnds && (!_storing || due))
            StoreOpen(frame.Time);
        else if (!_pipeline.HasOpenEnds && (_storing || (due && _pipeline.PartCount != _memory?.Detector.PartCount)))
            StoreIdle(frame.Time);
    }

    /// <summary>Kills it and starts it anew: what was not stored is gone.</summary>
    /// <param name="now">The time of the start.</param>
    public void Kill(DateTimeOffset now)
    {
        _pipeline = New();
        _recent.Clear();
        _unsaved.Clear();
        _storing = false;
        if (_memory is not null)
            _pipeline.Restore(_memory);
        var before = Cuts.Count;
        foreach (var frame in _pipeline.NotHandedOut(_stored.ToList()))
            Take(frame);
        if (Cuts.Count > before)
            StoreFinished(now);
        else
            Begin(now);
        while (_pipeline.TryTakeUnseen(out _))
        {
        }

        _pipeline.Resume();
    }

    private static SawPipeline New() => new(new SawMachine { Name = "saw" }, JobBook.Empty);

    private void Take(in SignalFrame frame)
    {
        _recent.Add(frame);
        if (_storing)
            _unsaved.Add(frame);
        _pipeline.Push(frame);
        while (_pipeline.TryTake(out var finished))
        {
            if (!finished.IsCorrection)
                Cuts.Add(finished.Evidence.Cut);
        }
    }

    private void StoreFinished(DateTimeOffset now)
    {
        _memory = _pipeline.Save();
        _stored.Clear();
        if (_pipeline.HasOpenEnds)
            _stored.AddRange(Needed());
        Begin(now);
    }

    private void StoreOpen(DateTimeOffset now)
    {
        if (!_storing)
        {
            _memory = _pipeline.Save();
            _stored.Clear();
            _stored.AddRange(Needed());
            Begin(now);
            return;
        }

        _stored.AddRange(_unsaved);
        _unsaved.Clear();
        _storedAt = now;
    }

    private IEnumerable<SignalFrame> Needed() => _recent.TakeLast(LookBack).SkipWhile(frame => frame.Time != _pipeline.NeededFrom);

    private void StoreIdle(DateTimeOffset now)
    {
        _memory = _pipeline.Save();
        _stored.Clear();
        _unsaved.Clear();
        _storing = false;
        _storedAt = now;
    }

    private void Begin(DateTimeOffset now)
    {
        _storing = _pipeline.HasOpenEnds;
        _unsaved.Clear();
        _storedAt = now;
    }
}
