using System.Text.Json;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Alarms;

/// <summary>The rules in force, for people and for programs.</summary>
internal sealed class AlarmRulesText(TextPage page, DisplayUnits units)
{
    /// <summary>Prints.</summary>
    public void Write(AlarmOptions alarms)
    {
        if (alarms.Rules.Count == 0)
        {
            page.Wrapped("", "No rule is in force: there will be no alarm.");
            return;
        }

        foreach (var topic in alarms.Rules.GroupBy(rule => rule.Variable.Topic).OrderBy(group => group.Key))
        {
            page.Line(topic.Key switch
            {
                AlarmTopic.Signal => "On signals, frame by frame",
                AlarmTopic.Finding => "On findings, while the cut runs",
                AlarmTopic.Cycle => "On each finished cut",
                AlarmTopic.Blade => "On the blade, after each cut",
                AlarmTopic.Oee => "On time and losses",
                AlarmTopic.Communication => "On whether data come",
                _ => "On the gateway itself",
            });
            foreach (var rule in topic)
                Write(rule);
            page.Line("");
        }

        page.Wrapped("", $"{AlarmText.Count(alarms.Rules.Count, "rule")} in force. 'sawedge alarm backtest' tries them on the past.");
    }

    /// <summary>The rules as JSON.</summary>
    public static string Json(AlarmOptions alarms) => AlarmJson.Text(json =>
    {
        json.WriteStartArray();
        foreach (var rule in alarms.Rules)
            Write(json, rule);
        json.WriteEndArray();
    });

    private void Write(AlarmRule rule)
    {
        page.Wrapped("  ", $"{rule.Name} ({rule.Severity.ToName()}, {RuleOrigins.Of(rule)})");
        page.Wrapped("      raised: ", RuleWords.Condition(rule, units));
        if (RuleWords.Gone(rule, units) is { } gone)
            page.Wrapped("      gone:   ", gone);
        foreach (var part in RuleWords.Rest(rule))
            page.Wrapped("      ", part);
    }

    private static void Write(Utf8JsonWriter json, AlarmRule rule)
    {
        json.WriteStartObject();
        json.WriteString("name", rule.Name);
        json.WriteString("origin", RuleOrigins.Of(rule));
        json.WriteString("severity", rule.Severity.ToName());
        json.WriteString("topic", rule.Variable.Topic.ToName());
        json.WriteString("variable", rule.Variable.Name);
        json.WriteString("subject_kind", rule.Variable.Subject.ToName());
        json.WriteString("condition", RuleWords.Condition(rule, DisplayUnits.Metric));
        AlarmJson.Words(json, "gone", RuleWords.Gone(rule, DisplayUnits.Metric));
        AlarmJson.Number(json, "limit", rule.Test.Limit);
        AlarmJson.Number(json, "clear_limit", rule.Test.ClearLimit);
        AlarmJson.Words(json, "unit", rule.Variable.Unit);
        AlarmJson.Number(json, "on_delay_s", rule.OnDelay.TotalSeconds);
        AlarmJson.Number(json, "off_delay_s", rule.OffDelay.TotalSeconds);
        json.WriteNumber("cuts_least", rule.Cuts.Least);
        json.WriteNumber("cuts_of", rule.Cuts.Of);
        json.WriteNumber("cuts_clear_after", rule.Cuts.ClearAfter);
        json.WriteBoolean("latch", rule.Latch);
        json.WriteBoolean("silences", rule.Silences);
        if (rule.Subjects is { } subjects)
        {
            json.WriteStartArray("subjects");
            foreach (var subject in subjects.Order(StringComparer.Ordinal))
                json.WriteStringValue(subject);
            json.WriteEndArray();
        }
        else
        {
            json.WriteNull("subjects");
        }

        json.WriteString("text", rule.Text.Source);
        json.WriteEndObject();
    }
}
