using SawEdge.Core.Alarms;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding.Alarms;

/// <summary>Declares the condition of a rule, and says where it contradicts itself or can never come or go.</summary>
internal static class ConditionBinding
{
    private static readonly WrittenType Limit = new();
    private static readonly WordsType Words = new();

    /// <summary>Declares the members that the variables of a topic need.</summary>
    /// <param name="o">The rule.</param>
    /// <param name="topic">The topic.</param>
    /// <param name="variable">The variable of this rule.</param>
    /// <returns>The condition; null where there is a mistake in it or in the variable.</returns>
    public static AlarmTest? Bind(ConfigObject o, AlarmTopic topic, Setting<AlarmVariable> variable)
    {
        var kinds = AlarmVariables.All.Where(candidate => candidate.Topic == topic).Select(candidate => candidate.Kind).ToHashSet();
        var hasNumbers = kinds.Contains(AlarmValueKind.Number);
        var hasWords = kinds.Contains(AlarmValueKind.Flag) || kinds.Contains(AlarmValueKind.Text);
        var numbers = new NumberMembers(
            hasNumbers ? o.Optional("above", Limit, "The alarm is raised above this limit, written with the variable's unit (\"5.5 kW\", \"30 s\", \"20 %\"), or the number alone where it has none.") : default,
            hasNumbers ? o.Optional("below", Limit, "The alarm is raised below this limit.") : default,
            hasNumbers ? o.Optional("deadband", Limit, "By how much the value must come back before the condition counts as gone.") : default,
            hasNumbers ? o.Optional("clearAt", Limit, "Instead of a deadband: the value at which the condition counts as gone.") : default);
        var isOne = hasWords ? o.Optional("is", Words, "Of a yes or no: true (also where left out) or false. Of a text: the word, or a list of words, one of which it must be.") : default;
        var isNone = hasWords ? o.Optional("isNot", Words, "The opposite: none of the words.") : default;

        if (variable is not { IsGood: true, Value: { } looked })
            return null;
        if (looked.Kind == AlarmValueKind.Number)
        {
            foreach (var odd in new[] { isOne, isNone }.Where(setting => setting.IsStated))
                o.Error(odd, $"{looked.Name} is a number; write \"above\" or \"below\" with a limit");
            return isOne.IsStated || isNone.IsStated ? null : OfNumber(o, looked, numbers);
        }

        var strange = numbers.All.Where(setting => setting.IsStated).ToList();
        foreach (var odd in strange)
            o.Error(odd, looked.Kind == AlarmValueKind.Flag ? $"{looked.Name} is a yes or no; write \"is\": true or false" : $"{looked.Name} is a text; write \"is\" or \"isNot\" with words");
        return strange.Count > 0 || (isOne.IsStated && !isOne.IsGood) || (isNone.IsStated && !isNone.IsGood) ? null : OfWords(o, looked, isOne, isNone);
    }

    private static AlarmTest? OfNumber(ConfigObject o, AlarmVariable variable, NumberMembers members)
    {
        var (above, below, deadband, clearAt) = members;
        if (above.IsStated && below.IsStated)
        {
            o.Error(below, "\"above\" is stated as well; a rule has one limit, so write two rules");
            return null;
        }

        var limit = above.IsStated ? above : below;
        if (!limit.IsStated)
        {
            o.ErrorAt("above", $"is missing; write \"above\" or \"below\" with the limit, for example \"above\": {VariableUnits.Example(variable)}");
            return null;
        }

        if (deadband.IsStated && clearAt.IsStated)
            o.Error(clearAt, "\"deadband\" is stated as well; keep one of the two");
        var number = limit.Value?.As(variable);
        var band = deadband.Value?.As(variable);
        var clear = clearAt.Value?.As(variable);
        if (number is not { } at || (deadband.IsStated && band is null) || (clearAt.IsStated && clear is null) || (deadband.IsStated && clearAt.IsStated))
            return null;

        if (band < 0)
        {
            o.Error(deadband, above.IsStated ? "is negative; write it without a sign: it is taken off the limit" : "is negative; write it without a sign: it is added to the limit");
            return null;
        }

        var test = new AlarmTest
        {
            Comparison = above.IsStated ? AlarmComparison.Above : AlarmComparison.Below,
            Limit = at,
            ClearLimit = clear ?? (above.IsStated ? at - (band ?? 0) : at + (band ?? 0)),
        };
        return CanComeAndGo(o, variable, test, limit, deadband.IsStated ? deadband : clearAt.IsStated ? clearAt : limit) ? test : null;
    }

    private static bool CanComeAndGo(ConfigObject o, AlarmVariable variable, AlarmTest test, Setting<Written?> limit, Setting<Written?> clear)
    {
        var (least, greatest) = VariableUnits.Range(variable);
        var isAbove = test.Comparison == AlarmComparison.Above;
        string Shown(double value) => DisplayText.Text(DisplayUnits.Metric, value, variable.Unit);
        if (isAbove ? test.ClearLimit > test.Limit : test.ClearLimit < test.Limit)
            o.Error(clear, $"lies on the wrong side: the alarm is raised {(isAbove ? "above" : "below")} {Shown(test.Limit)} and would be cleared while it still is; write a value {(isAbove ? "below" : "above")} that");
        else if (isAbove && test.Limit >= greatest)
            o.Error(limit, $"can never be passed: {variable.Name} is at most {Shown(greatest)}; write less");
        else if (!isAbove && test.Limit <= least)
            o.Error(limit, $"can never be passed: {variable.Name} is at least {Shown(least)}; write more");
        else if (isAbove && test.ClearLimit < least || (isAbove && test.ClearLimit == least && clear.Path != limit.Path))
            o.Error(clear, $"the alarm could never clear: {variable.Name} is never below {Shown(least)}{(clear.Path == limit.Path ? "" : $", and it clears below {Shown(test.ClearLimit)}")}; write a value above that");
        else if (!isAbove && test.ClearLimit > greatest || (!isAbove && test.ClearLimit == greatest && clear.Path != limit.Path))
            o.Error(clear, $"the alarm could never clear: {variable.Name} is never above {Shown(greatest)}{(clear.Path == limit.Path ? "" : $", and it clears above {Shown(test.ClearLimit)}")}; write a value below that");
        else
            return true;
        return false;
    }

    private static AlarmTest? OfWords(ConfigObject o, AlarmVariable variable, Setting<WrittenWords?> isOne, Setting<WrittenWords?> isNone)
    {
        if (isOne.IsStated && isNone.IsStated)
        {
            o.Error(isNone, "\"is\" is stated as well; keep one of the two");
            return null;
        }

        var stated = isNone.IsStated ? isNone : isOne;
        var isFlag = variable.Kind == AlarmValueKind.Flag;
        if (!stated.IsStated && !isFlag)
        {
            o.ErrorAt("is", $"is missing; write the word that raises the alarm, for example \"is\": \"{(KnownWords(variable) is [.., var last] ? last : "word")}\"");
            return null;
        }

        if (isFlag && stated.Value is { Flag: null })
            o.Error(stated, $"{variable.Name} is a yes or no; write true or false, without quotes");
        else if (!isFlag && stated.Value is { Flag: not null })
            o.Error(stated, $"{variable.Name} is a text; write a word in double quotes");
        else if (isFlag)
            return new AlarmTest { Comparison = (stated.Value?.Flag ?? true) == isNone.IsStated ? AlarmComparison.IsNot : AlarmComparison.Is };
        else
            return AreKnown(o, variable, stated.Value!.Words) ? new AlarmTest { Comparison = isNone.IsStated ? AlarmComparison.IsNot : AlarmComparison.Is, Words = [.. stated.Value.Words.Select(word => word.Value)] } : null;
        return null;
    }

    private static bool AreKnown(ConfigObject o, AlarmVariable variable, IReadOnlyList<Setting<string>> words)
    {
        var known = KnownWords(variable);
        var strange = known.Count == 0 ? [] : words.Where(word => !known.Contains(word.Value, StringComparer.OrdinalIgnoreCase)).ToList();
        foreach (var word in strange)
            o.Error(word, $"{Reading.Words.Quoted(word.Value)} is never the {variable.Name.Replace('_', ' ')} of a saw's cut; {Reading.Words.DidYouMean(word.Value, known)}");
        return strange.Count == 0;
    }

    /// <summary>The words that a text can be, or none where anything is possible.</summary>
    private static IReadOnlyList<string> KnownWords(AlarmVariable variable) => variable.Name switch
    {
        "outcome" => [.. Enum.GetValues<CutOutcome>().Select(outcome => outcome.ToName())],
        "likely_cause" => LikelyCause.Names,
        "mode" => ["automatic", "semi_automatic", "manual"],
        _ => [],
    };

    private readonly record struct NumberMembers(Setting<Written?> Above, Setting<Written?> Below, Setting<Written?> Deadband, Setting<Written?> ClearAt)
    {
        public IEnumerable<Setting<Written?>> All => [Above, Below, Deadband, ClearAt];
    }
}
