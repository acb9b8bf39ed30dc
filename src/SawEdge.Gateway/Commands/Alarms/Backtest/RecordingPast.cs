using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cutting;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Recordings;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Alarms.Backtest;

/// <summary>Recorded frames past the rules, through the pipeline of live operation: signals, findings, cycles, blades.</summary>
/// <param name="options">The configuration whose saws and rules are tried.</param>
/// <param name="jobs">The jobs.</param>
/// <param name="from">Only frames of then or later; null: all.</param>
/// <param name="to">Only frames before; null: all.</param>
internal sealed class RecordingPast(GatewayOptions options, JobBook jobs, DateTimeOffset? from, DateTimeOffset? to)
{
    private static readonly HashSet<AlarmTopic> Triable = [AlarmTopic.Signal, AlarmTopic.Finding, AlarmTopic.Cycle, AlarmTopic.Blade];

    private readonly PastCollector _past = new();
    private readonly Dictionary<string, (SawPipeline Pipeline, SawAlarmWatch Watch, DerivedFlag[] Derived)> _saws = new(StringComparer.Ordinal);
    private long _cycles;
    private long _frames;

    /// <summary>Goes through it.</summary>
    /// <param name="recordings">The recordings, from their beginning.</param>
    /// <param name="cancellation">Breaks off.</param>
    public async Task<WatchedPast> RunAsync(RecordingSet recordings, CancellationToken cancellation)
    {
        var row = default(RecordedFrame);
        while (await recordings.FillAsync(cancellation))
        {
            cancellation.ThrowIfCancellationRequested();
            while (recordings.TryRead(ref row))
                Take(ref row);
        }

        foreach (var (pipeline, watch, _) in _saws.Values)
        {
            pipeline.Complete();
            Collect(pipeline, watch);
        }

        return new WatchedPast
        {
            Changes = _past.Changes,
            From = _past.From,
            To = _past.To,
            Saws = _past.Saws,
            Cycles = _cycles,
            Frames = _frames,
            Topics = Triable,
            What = AlarmText.Count(recordings.Files.Count, "recording"),
        };
    }

    private void Take(ref RecordedFrame row)
    {
        var at = row.Frame.Time;
        if (at < from || at >= to)
            return;
        if (!_saws.TryGetValue(row.Saw, out var known))
        {
            known = Begin(row.Saw);
            _saws.Add(row.Saw, known);
            _past.See(row.Saw);
        }

        _frames++;
        _past.See(at);
        foreach (var flag in known.Derived)
            flag.Apply(ref row.Frame);
        known.Pipeline.Push(row.Frame);
        if (known.Pipeline.TookLast)
            known.Watch.Push(row.Frame, known.Pipeline.Phase, known.Pipeline.IdleKw);
        Collect(known.Pipeline, known.Watch);
    }

    private (SawPipeline Pipeline, SawAlarmWatch Watch, DerivedFlag[] Derived) Begin(string name)
    {
        var saw = options.Saws.FirstOrDefault(candidate => candidate.Name == name);
        return (new SawPipeline(saw?.Machine ?? new SawMachine { Name = name }, jobs, saw?.Blade, options.LoadScore), new SawAlarmWatch(name, options.Alarms.Rules), [.. (saw?.Derived ?? []).Select(rule => new DerivedFlag(rule))]);
    }

    private void Collect(SawPipeline pipeline, SawAlarmWatch watch)
    {
        while (pipeline.TryTakeFinding(out var finding))
            watch.Take(finding);
        while (pipeline.TryTake(out var cut))
        {
            _cycles++;
            watch.Take(cut.Record, cut.Assessment);
        }

        _past.Take(watch);
    }
}
