using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.Configuration.Binding.Alarms;

/// <summary>What a rule says where its author wrote nothing.</summary>
internal static class RuleTexts
{
    private const string Caution = "Stop the saw, isolate it, lock out and tag out by the plant's procedure before opening a guard or touching the blade. SawEdge is no safety device; local codes and qualified people decide.";

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

    /// <summary>The caution, where looking after the alarm sends a person to a saw; else nothing.</summary>
    public static string UsualCaution(AlarmVariable variable) =>
        variable.Topic is AlarmTopic.Signal or AlarmTopic.Finding or AlarmTopic.Cycle or AlarmTopic.Blade ? Caution : "";
}
