using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Alarms;

/// <summary>Rules on findings, finished cuts and blades.</summary>
public sealed partial class SawAlarmWatch
{
    private DateTimeOffset? _lastStarted;
    private string _blade = "";
    private double _bladeAreaM2 = double.NaN;

    /// <summary>Takes a finding of the live watch.</summary>
    public void Take(LiveFinding finding)
    {
        foreach (var rule in _findingRules)
        {
            if (rule.Kind != finding.Kind)
                continue;
            rule.Last = finding;
            rule.Watch.Found();
            if (rule.Watch.Holds == true && rule.Told != true)
            {
                rule.Told = true;
                Tell(rule.Rule, finding, _bySignal[(int)Signal.Job]?.Text, cycleId: null);
            }
        }
    }

    /// <summary>Takes a finished cut; one that comes again with a corrected record is passed over.</summary>
    public void Take(CycleRecord record, LoadAssessment? assessment) => Take(record, assessment, told: true);

    /// <summary>Takes a cut from before the restart: counted, but what changes by it is told by the next cut only if it still holds.</summary>
    public void Warm(CycleRecord record, LoadAssessment? assessment) => Take(record, assessment, told: false);

    private void Take(CycleRecord record, LoadAssessment? assessment, bool told)
    {
        if (record.StartedAt <= _lastStarted)
            return;
        _lastStarted = record.StartedAt;
        foreach (var rule in _findingRules)
        {
            if (HasFinding(rule, record, assessment) is not { } has)
                continue;
            rule.Watch.Push(has, !has);
            if (!told || rule.Told == rule.Watch.Holds || rule.Watch.Holds is not { } holds)
                continue;
            rule.Told = holds;
            if (holds && rule.Last is { } finding)
                Tell(rule.Rule, finding, record.Job, record.CycleId);
            else
                Tell(rule.Rule, record, assessment, holds, double.NaN, double.NaN, null);
        }

        var another = IsAnotherBlade(record);
        foreach (var rule in _cutRules)
        {
            var begins = another && rule.Rule.Variable.Topic == AlarmTopic.Blade && rule.Watch.Holds is not null;
            if (begins)
                rule.Watch.Begin();
            var (value, text) = (rule.Reading.Number?.Invoke(record, assessment) ?? double.NaN, rule.Reading.Text?.Invoke(record));
            var known = (text is not null || !double.IsNaN(value)) && !IsToldByAFinding(rule.Rule, assessment);
            var test = rule.Rule.Test;
            if (known && text is not null)
                rule.Watch.Push(test.Meets(text), !test.Meets(text));
            else if (known)
                rule.Watch.Push(test.Meets(value), test.Ends(value));
            if (!told || !(known || begins) || rule.Told == rule.Watch.Holds || rule.Watch.Holds is not { } holds)
                continue;
            rule.Told = holds;
            var (shown, limit) = rule.Rule.Variable switch
            {
                { Topic: AlarmTopic.Cycle, Name: AlarmVariables.Unusual } => (assessment?.Score ?? double.NaN, assessment?.Threshold ?? double.NaN),
                { Kind: AlarmValueKind.Number } => (value, test.Limit),
                _ => (double.NaN, double.NaN),
            };
            Tell(rule.Rule, record, assessment, holds, shown, limit, text);
        }
    }

    // That a cut did not show something counts only where it was seen through, by a blade that was there, in stock that was there.
    private static bool? HasFinding(FindingRule rule, CycleRecord record, LoadAssessment? assessment)
    {
        if (assessment is null)
            return null;
        if (assessment.Findings.LastOrDefault(finding => finding.Kind == rule.Kind) is { } found)
        {
            rule.Last = rule.Last?.At > found.At ? rule.Last : found;
            return true;
        }

        if (rule.Last?.At >= record.StartedAt && rule.Last.At <= record.EndedAt)
            return true;
        if (rule.Last?.At > record.EndedAt || record.Outcome is not (CutOutcome.Completed or CutOutcome.Trim or CutOutcome.Partial))
            return null;
        return assessment.Findings.Any(finding => finding.Kind is LiveFindingKind.BladeGone or LiveFindingKind.NoContact) ? null : false;
    }

    // One cause, one alarm: what was found while the cut ran has been told already.
    private bool IsToldByAFinding(AlarmRule rule, LoadAssessment? assessment) =>
        rule.Variable is { Topic: AlarmTopic.Cycle, Name: AlarmVariables.Unusual } && assessment is { Findings.Count: > 0 }
        && _findingRules.Any(known => known.Watch.Holds == true && assessment.Findings.Any(finding => finding.Kind == known.Kind));

    private bool IsAnotherBlade(CycleRecord record)
    {
        var another = (_blade.Length > 0 && record.Blade.Length > 0 && record.Blade != _blade) || record.BladeAreaM2 < _bladeAreaM2;
        if (record.Blade.Length > 0)
            _blade = record.Blade;
        _bladeAreaM2 = record.BladeAreaM2 ?? (another ? double.NaN : _bladeAreaM2);
        return another;
    }

    private void Tell(AlarmRule rule, LiveFinding finding, string? job, string? cycleId)
    {
        var (name, mayBe, caution) = CauseTable.Of(finding.Kind);
        _changes.Enqueue(new ConditionChange
        {
            Rule = rule.Name,
            Subject = _subject,
            At = finding.At,
            Holds = true,
            Facts = FinishedCutFacts.Of(finding, job),
            CycleId = cycleId,
            Cause = name,
            MayBe = mayBe,
            Caution = caution,
        });
    }

    private void Tell(AlarmRule rule, CycleRecord record, LoadAssessment? assessment, bool holds, double value, double limit, string? text)
    {
        var ofBlade = rule.Variable.Topic == AlarmTopic.Blade;
        var facts = !holds ? [] : ofBlade ? FinishedCutFacts.OfBlade(record, assessment) : FinishedCutFacts.Of(record, assessment);
        if (holds && !string.IsNullOrEmpty(text))
            facts["value"] = AlarmFact.Words(text);
        var cause = holds && !ofBlade && assessment?.Causes is [var first, ..] ? first : null;
        _changes.Enqueue(new ConditionChange
        {
            Rule = rule.Name,
            Subject = _subject,
            At = record.EndedAt,
            Holds = holds,
            Value = value,
            Limit = limit,
            Facts = facts,
            CycleId = record.CycleId,
            Cause = cause?.Name ?? "",
            MayBe = cause?.MayBe ?? "",
            Caution = cause?.Caution ?? "",
        });
    }
}
