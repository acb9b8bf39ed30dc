using SawEdge.Core.Alarms;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Commands.Alarms;

/// <summary>A rule and a subject that a person named.</summary>
internal static class RuleChoice
{
    /// <summary>Sees to it that a rule is in the configuration, where there is one.</summary>
    /// <exception cref="CommandException">It is not.</exception>
    public static AlarmRule? CheckRule(GatewayOptions? options, string rule)
    {
        if (options is null)
            return null;
        return options.Alarms.Rules.FirstOrDefault(known => known.Name == rule)
            ?? throw new CommandException($"There is no rule {Words.Quoted(rule)}; {(options.Alarms.Rules.Count == 0 ? "the configuration has none." : NamedFolder.Hint(rule, [.. options.Alarms.Rules.Select(known => known.Name)]))}");
    }

    /// <summary>What a rule is about, as a person named it.</summary>
    /// <param name="options">The configuration, or null: a saw is meant.</param>
    /// <param name="rule">The rule; null without a configuration.</param>
    /// <param name="name">The name that was written; null: the only one there is.</param>
    /// <exception cref="CommandException">There is none of that name, or it must be named.</exception>
    public static AlarmSubject Subject(GatewayOptions? options, AlarmRule? rule, string? name)
    {
        if (options is null || rule is null)
            return name is null ? throw new CommandException("--saw is missing: name the saw that is meant.") : AlarmSubject.Saw(name);
        var kind = rule.Variable.Subject;
        IReadOnlyList<string> names = [.. Names(options, kind).Where(candidate => rule.Subjects?.Contains(candidate) ?? true)];
        if (name is null && names.Count == 1)
            return new AlarmSubject(kind, names[0]);
        if (name is null)
            throw new CommandException($"--saw is missing: rule {rule.Name} holds for {(names.Count == 0 ? "nothing in this configuration" : RuleWords.List(names, "and"))}; name the one that is meant.");
        return names.Contains(name)
            ? new AlarmSubject(kind, name)
            : throw new CommandException($"Rule {rule.Name} does not hold for {Words.Quoted(name)}; {(names.Count == 0 ? $"it is about a {kind.ToName()}, and there is none." : NamedFolder.Hint(name, names))}");
    }

    private static IEnumerable<string> Names(GatewayOptions options, AlarmSubjectKind kind) => kind switch
    {
        AlarmSubjectKind.Saw => options.Saws.Select(saw => saw.Name),
        AlarmSubjectKind.Source => options.ModbusDevices.Select(device => device.Name).Concat(options.MqttBrokers.Select(broker => broker.Name)),
        AlarmSubjectKind.Destination => options.Influx.Select(destination => destination.Name),
        AlarmSubjectKind.Channel => options.Alarms.Channels.Select(channel => channel.Name),
        _ => [options.Gateway],
    };
}
