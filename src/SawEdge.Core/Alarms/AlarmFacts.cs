using SawEdge.Core.Signals;

namespace SawEdge.Core.Alarms;

/// <summary>The names that the texts of alarms can use.</summary>
public static class AlarmFacts
{
    /// <summary>Names that every text can use: <c>rule</c>, <c>subject</c>, <c>saw</c> (where it is one), <c>value</c>, <c>limit</c>, <c>severity</c>.</summary>
    public static IReadOnlyList<string> Common { get; } = ["rule", "subject", "saw", "value", "limit", "severity"];

    private static readonly Dictionary<AlarmTopic, string[]> Names = new()
    {
        [AlarmTopic.Signal] = [.. SignalInfo.All.Select(info => info.Name)],
        [AlarmTopic.Finding] = ["finding", "job"],
        [AlarmTopic.Cycle] = [.. CycleColumns.All.Select(column => column.Name), "evidence", "cause", "threshold"],
        [AlarmTopic.Blade] = ["blade", "rise", "area", "area_left", "area_left_low", "cuts_left", "job"],
        [AlarmTopic.Oee] = [.. AlarmVariables.All.Where(variable => variable.Topic == AlarmTopic.Oee).Select(variable => variable.Name), "period"],
        [AlarmTopic.Communication] = ["signals", "saws"],
        [AlarmTopic.Gateway] = ["trouble"],
    };

    /// <summary>
    /// All names that the text of a rule on a variable can use: the common ones; of a signal rule all signals; of a finding
    /// <c>finding</c> (what was seen, a sentence) and <c>job</c>; of a cycle rule all columns of the record and <c>evidence</c>, <c>cause</c>,
    /// <c>threshold</c>; of a blade rule <c>blade</c>, <c>rise</c>, <c>area</c>, <c>area_left</c>, <c>area_left_low</c>, <c>cuts_left</c>, <c>job</c>; of an OEE
    /// rule all OEE variables and <c>period</c>; of a communication rule <c>signals</c> (those that are missing), <c>saws</c> (those concerned); of a rule about
    /// the gateway <c>trouble</c> (what is wrong with its clock, what has to be mended at a destination).
    /// </summary>
    public static IReadOnlyList<string> NamesFor(AlarmVariable variable) => [.. Common.Union(Names[variable.Topic], StringComparer.Ordinal)];

    /// <summary>What the text of an alarm can name: the common names, and beside or instead of them what the change brings itself.</summary>
    /// <param name="rule">The rule.</param>
    /// <param name="change">How its condition came.</param>
    public static IReadOnlyDictionary<string, AlarmFact> Of(AlarmRule rule, ConditionChange change)
    {
        var facts = new Dictionary<string, AlarmFact>(StringComparer.Ordinal)
        {
            ["rule"] = AlarmFact.Words(rule.Name),
            ["subject"] = AlarmFact.Words(change.Subject.ToString()),
            ["value"] = AlarmFact.Number(change.Value, rule.Variable.Unit),
            ["limit"] = AlarmFact.Number(change.Limit, rule.Variable.Unit),
            ["severity"] = AlarmFact.Words(rule.Severity.ToName()),
        };
        if (change.Subject.Kind == AlarmSubjectKind.Saw)
            facts["saw"] = AlarmFact.Words(change.Subject.Name);

        // The value of a text is known to the watch alone, and so is the unit of what a finding measured.
        foreach (var (name, fact) in change.Facts)
            facts[name] = fact;
        return facts;
    }
}
