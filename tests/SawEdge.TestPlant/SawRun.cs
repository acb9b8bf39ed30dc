using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cutting;
using SawEdge.Core.Oee;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Processing;
using SawEdge.Simulator.Saws;

namespace SawEdge.TestPlant;

/// <summary>One virtual saw through all that live operation does with its frames: cycles, states, conditions of alarms.</summary>
internal sealed class SawRun
{
    private readonly SawPipeline _pipeline;
    private readonly SawAlarmWatch _alarms;
    private readonly CutStorage _storage;
    private readonly StateWatch _states = new();
    private readonly List<FinishedCut> _cuts = [];
    private readonly List<FinishedCycle> _rows = [];
    private readonly List<StateSegment> _segments = [];
    private readonly List<ConditionChange> _changes = [];

    public SawRun(VirtualSaw saw, SawOptions options, GatewayOptions gateway, JobBook jobs)
    {
        Saw = saw;
        _pipeline = new SawPipeline(options.Machine, jobs, options.Blade, gateway.LoadScore);
        _alarms = new SawAlarmWatch(options.Name, gateway.Alarms.Rules);
        _storage = new CutStorage(options.Blade);
    }

    public VirtualSaw Saw { get; }

    /// <summary>Takes what the saw shows at some moments.</summary>
    /// <returns>What came or went, in the order of time.</returns>
    public IReadOnlyList<ConditionChange> Play(IReadOnlyList<DateTimeOffset> moments)
    {
        _changes.Clear();
        foreach (var at in moments)
            Step(at);
        return _changes;
    }

    /// <summary>Stores what has come together.</summary>
    /// <param name="writer">The history.</param>
    /// <param name="isLast">Whether no frame follows: what is open is told as far as it was seen, and what was learned is kept.</param>
    public async Task StoreAsync(HistoryWriter writer, bool isLast)
    {
        if (isLast)
            _states.Complete();
        while (_states.TryTake(out var segment))
            _segments.Add(segment);
        if (_rows.Count > 0)
            await writer.AppendAsync([.. _rows], CancellationToken.None);
        if (_segments.Count > 0)
            await writer.SaveStatesAsync(Saw.Name, [.. _segments], CancellationToken.None);
        if (isLast)
            await writer.SaveMemoryAsync(Saw.Name, MemoryCodec.Encode(_pipeline.Save(), 0, _storage.SinceCheckpoint), CancellationToken.None);
        _rows.Clear();
        _segments.Clear();
    }

    private void Step(DateTimeOffset at)
    {
        if (!Saw.TrySample(at, out var raw))
            return;
        var frame = Cleaned(raw);
        _pipeline.Push(frame);
        if (_pipeline.TookLast)
            _alarms.Push(frame, _pipeline.Phase, _pipeline.IdleKw);
        _states.Push(frame, _pipeline.Phase, _pipeline.IdleKw);
        while (_pipeline.TryTakeFinding(out var finding))
            _alarms.Take(finding);
        while (_pipeline.TryTake(out var cut))
        {
            _cuts.Add(cut);
            _alarms.Take(cut.Record, cut.Assessment);
        }

        if (_cuts.Count > 0)
            _rows.AddRange(_storage.Rows(_cuts, _pipeline.Recorder));
        _cuts.Clear();
        while (_alarms.TryTake(out var change))
            _changes.Add(change);
    }

    // Text is cleaned where it comes into the gateway.
    private static SignalFrame Cleaned(in SignalFrame raw)
    {
        var frame = raw;
        foreach (var info in SignalInfo.All)
        {
            if (raw.Has(info.Signal) && raw.Text(info.Signal) is { } text)
                frame.Set(info.Signal, ControllerText.Clean(text));
        }

        return frame;
    }
}
