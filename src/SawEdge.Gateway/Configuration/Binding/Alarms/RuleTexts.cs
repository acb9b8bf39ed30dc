using SawEdge.Core;
using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.Configuration.Binding.Alarms;

/// <summary>What a rule says where its author wrote nothing.</summary>
internal static class RuleTexts
{
    /// <summary>The text: what, its value and the limit.</summary>
    public static AlarmTemplate Usual(AlarmVariable variable, AlarmTest test)
    {
        var what = variable.Name.Replace('_', ' ');
        return AlarmTemplate.Parse(variable.Kind switch
        {
            AlarmValueKind.Number => $"{{subject}}: {what} {{value}}, limit {{limit}}",
            AlarmValueKind.Text => $"{{subject}}: {what} {{value}}",
            _ when variable.Topic == AlarmTopic.Finding => "{subject}: {finding}",
            _ => $"{{subject}}: {what}{(test.Comparison == AlarmComparison.IsNot ? " no more" : "")}",
        });
    }

    /// <summary>What it may be: as the program's own rule about the same thing says.</summary>
    public static string UsualMayBe(AlarmVariable variable) => Own(variable)?.MayBe ?? "";

    /// <summary>The caution: as the program's own rule says; else the usual one, where looking after the alarm sends a person to a saw.</summary>
    public static string UsualCaution(AlarmVariable variable) => Own(variable)?.Caution ?? variable.Topic switch
    {
        AlarmTopic.Signal or AlarmTopic.Finding or AlarmTopic.Cycle or AlarmTopic.Blade => AlarmCaution.LockOut,
        AlarmTopic.Communication => AlarmCaution.Wiring,
        _ => "",
    };

    private static AlarmRule? Own(AlarmVariable variable) => DefaultRules.All.FirstOrDefault(rule => rule.Variable == variable);
}
