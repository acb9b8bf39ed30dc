using System.Diagnostics.CodeAnalysis;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Alarms;

/// <summary>
/// All rules about one saw's signals, findings, cycles and blade. Runs in the saw's own loop, behind the pipeline, on the same
/// data: live, in a replay and in a backtest. Deterministic, no clock; allocates nothing per frame unless a condition comes or goes.
/// Not thread safe.
/// </summary>
public sealed partial class SawAlarmWatch
{
    /// <summary>Frames behind the last one that must rise among themselves before a set-back clock is believed; the live watch's own.</summary>
    private const int ProofOfStep = 3;

    private static readonly Signal[] StateSignals = [Signal.Cutting, Signal.BladeRunning, Signal.MotorLoad];

    private readonly AlarmSubject _subject;
    private readonly SignalTrack?[] _bySignal = new SignalTrack?[SignalInfo.Count];
    private readonly SignalTrack[] _tracks;
    private readonly SignalRule[] _signalRules;
    private readonly FindingRule[] _findingRules;
    private readonly CutRule[] _cutRules;
    private readonly bool _asksForStates;
    private readonly Queue<ConditionChange> _changes = new();
    private long _ticks = long.MinValue;
    private long _behindTicks;
    private int _behind;

    /// <summary>Prepares the watch of one saw.</summary>
    /// <param name="saw">Name of the saw.</param>
    /// <param name="rules">All rules; those that are not about this saw, or of other topics, are passed over.</param>
    public SawAlarmWatch(string saw, IReadOnlyList<AlarmRule> rules)
    {
        _subject = AlarmSubject.Saw(saw);
        AlarmRule[] own = [.. rules.Where(rule => rule.Variable.Subject == AlarmSubjectKind.Saw && rule.Subjects?.Contains(saw) != false)];
        _findingRules = [.. own.Where(rule => rule.Variable.Topic == AlarmTopic.Finding).Select(rule => new FindingRule(rule))];
        _cutRules = [.. own.Where(rule => rule.Variable.Topic is AlarmTopic.Cycle or AlarmTopic.Blade).Select(rule => new CutRule(rule))];
        AlarmRule[] ofSignals = [.. own.Where(rule => rule.Variable.Topic == AlarmTopic.Signal)];
        _asksForStates = ofSignals.Any(rule => rule.While != SawStates.Any);
        if (_asksForStates)
            Array.ForEach(StateSignals, signal => Track(signal));
        if (_findingRules.Length > 0)
            Track(Signal.Job);
        _signalRules = [.. ofSignals.Select(rule => new SignalRule(new RuleWatch(rule), Track(SignalOf(rule.Variable.Name))))];
        foreach (var rule in ofSignals)
        {
            foreach (var name in rule.Text.Names)
            {
                if (SignalInfo.TryFind(name, out var info))
                    Track(info.Signal);
            }
        }

        _tracks = [.. _bySignal.OfType<SignalTrack>()];
    }

    /// <summary>Cuts before the present that a restart must feed to <see cref="Warm"/> so that "m of n cuts" goes on.</summary>
    public int Memory => _findingRules.Select(rule => rule.Rule).Concat(_cutRules.Select(rule => rule.Rule)).Select(rule => Math.Max(rule.Cuts.Of, rule.Cuts.ClearAfter)).DefaultIfEmpty(0).Max();

    /// <summary>Takes a frame after the pipeline took it.</summary>
    /// <param name="frame">The frame.</param>
    /// <param name="phase">What the pipeline says the saw is doing.</param>
    /// <param name="idleKw">Load with the blade in air, as learned, kW; NaN: not known.</param>
    public void Push(in SignalFrame frame, CyclePhase phase, double idleKw)
    {
        var ticks = frame.Time.UtcTicks;
        if (!Follows(ticks))
            return;
        foreach (var track in _tracks)
            track.Read(frame, ticks);
        var states = _asksForStates
            ? SawStateRules.Of(phase, NumberAt(Signal.Cutting, ticks), NumberAt(Signal.BladeRunning, ticks), NumberAt(Signal.MotorLoad, ticks), idleKw)
            : SawStates.Any;
        foreach (var (watch, track) in _signalRules)
        {
            var applies = (watch.Rule.While & states) != 0;
            if (!track.IsRead && applies)
                continue;
            if (Push(watch, track, frame.Time, applies))
                Tell(watch, track, frame.Time, ticks);
        }
    }

    /// <summary>Takes the next change, oldest first.</summary>
    public bool TryTake([NotNullWhen(true)] out ConditionChange? change) => _changes.TryDequeue(out change);

    private static Signal SignalOf(string name) =>
        SignalInfo.TryFind(name, out var info) ? info.Signal : throw new ArgumentException($"There is no signal '{name}'.", nameof(name));

    // What was before a signal stayed away proves nothing about the time until it came back.
    private static bool Push(RuleWatch watch, SignalTrack track, DateTimeOffset at, bool applies)
    {
        if (track.IsText)
        {
            var before = track.IsBack && watch.Push(at, (string?)null, applies);
            return watch.Push(at, track.Text, applies) || before;
        }

        var changed = track.IsBack && watch.Push(at, double.NaN, applies);
        return watch.Push(at, track.Number, applies) || changed;
    }

    private double NumberAt(Signal signal, long ticks) => _bySignal[(int)signal]!.NumberAt(ticks);

    private SignalTrack Track(Signal signal) => _bySignal[(int)signal] ??= new SignalTrack(signal);

    private bool Follows(long ticks)
    {
        if (ticks > _ticks)
        {
            _ticks = ticks;
            _behind = 0;
            return true;
        }

        if (ticks == _ticks)
            return false;
        _behind = _behind > 0 && ticks > _behindTicks ? _behind + 1 : 1;
        _behindTicks = ticks;
        if (_behind < ProofOfStep)
            return false;
        _behind = 0;
        _ticks = ticks;
        _lastStarted = null;
        return true;
    }

    private void Tell(RuleWatch watch, SignalTrack track, DateTimeOffset at, long ticks)
    {
        var rule = watch.Rule;
        var holds = watch.Holds == true;
        var facts = new Dictionary<string, AlarmFact>(StringComparer.Ordinal);
        if (holds)
        {
            foreach (var known in _tracks)
            {
                if (known.IsFresh(ticks))
                    facts[SignalInfo.Of(known.Signal).Name] = known.IsText ? AlarmFact.Words(known.Text!) : AlarmFact.Number(known.Number, SignalInfo.Of(known.Signal).Unit);
            }

            if (track is { IsText: true, Text: { } text })
                facts["value"] = AlarmFact.Words(text);
        }

        _changes.Enqueue(new ConditionChange
        {
            Rule = rule.Name,
            Subject = _subject,
            At = at,
            Holds = holds,
            Value = rule.Variable.Kind == AlarmValueKind.Number ? watch.Value : double.NaN,
            Limit = rule.Test.Limit,
            Facts = facts,
        });
    }

    private readonly record struct SignalRule(RuleWatch Watch, SignalTrack Track);

    /// <summary>A rule on a finding.</summary>
    private sealed class FindingRule(AlarmRule rule)
    {
        public AlarmRule Rule => rule;

        public LiveFindingKind Kind { get; } = Enum.GetValues<LiveFindingKind>().First(kind => kind.ToName() == rule.Variable.Name);

        public CutWatch Watch { get; } = new(rule.Cuts);

        public bool? Told { get; set; }

        /// <summary>What was found last.</summary>
        public LiveFinding? Last { get; set; }
    }

    /// <summary>A rule on a figure of finished cuts, or on the blade after them.</summary>
    private sealed class CutRule(AlarmRule rule)
    {
        public AlarmRule Rule => rule;

        public CutReading Reading { get; } = CutReading.Of(rule.Variable);

        public CutWatch Watch { get; } = new(rule.Cuts);

        public bool? Told { get; set; }
    }
}
