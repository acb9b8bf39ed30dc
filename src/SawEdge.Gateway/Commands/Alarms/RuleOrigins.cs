using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.Commands.Alarms;

/// <summary>Where a rule comes from.</summary>
internal static class RuleOrigins
{
    /// <summary>In words: the program's own rule, the same changed by the plant, or the plant's.</summary>
    public static string Of(AlarmRule rule) => DefaultRules.All.FirstOrDefault(own => own.Name == rule.Name) is not { } known ? "the plant's rule"
        : known == rule ? "own rule"
        : "own rule, changed by the plant";
}
