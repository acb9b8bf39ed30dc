using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>Declares how two gateways watch the same saws in turns.</summary>
internal static class StandbyBinding
{
    /// <summary>The settings.</summary>
    public static ObjectType<StandbyOptions> Type { get; } = new("standby", "A second gateway for the same saws, which takes over where the first is silent. Both have this section, each with its own role and with the two topics the other way round.", Bind);

    /// <summary>What only shows when it is seen together with the brokers.</summary>
    public static void Check(GatewayOptions options, Findings findings)
    {
        if (options.Standby is not { Broker: { } name } standby)
            return;
        if (options.MqttBrokers.FirstOrDefault(broker => broker?.Name == name) is not { } broker)
        {
            var names = options.MqttBrokers.Select(one => one?.Name).OfType<string>().ToList();
            findings.Error("standby.broker", $"there is no broker {Words.Quoted(name)}; {(names.Count == 0 ? "describe it under \"brokers\"" : Words.DidYouMean(name, names))}");
        }
        else if (broker.PresenceTopic is { } presence && (presence == standby.Topic || presence == standby.Other))
        {
            findings.Error(presence == standby.Topic ? "standby.topic" : "standby.other", $"is the presenceTopic of broker {Words.Quoted(name)} already, which another connection writes; give the two gateways topics of their own here");
        }
    }

    private static StandbyOptions Bind(ConfigObject o)
    {
        var role = o.Required("role", new ChoiceType<bool>(("first", true, "Watches the saws as long as it runs."), ("second", false, "Watches them while the first is silent.")), "What this gateway is of the two.");
        var broker = o.Required("broker", ValueTypes.Name("hall"), "Name of the broker through which the two know of each other. A connection of its own is made, with \"-standby\" behind the clientId.");
        var topic = o.Required("topic", MqttSignals.OwnTopic, "Topic of this gateway's own presence, retained: \"online\" of the first; \"standby\", \"active\" or \"yielding\" of the second; \"offline\" when it has left or is gone (its last will).");
        var other = o.Required("other", MqttSignals.OwnTopic, "Topic of the other gateway's presence.");
        var after = o.Default("after", ValueTypes.Time("2 s", "10 min"), "10 s", "How long the other's presence must say \"offline\", or nothing, before this one goes on without it. The same in both.");
        var page = o.Optional("otherPage", ValueTypes.Url, "Of the second: address of the first's page, \"http://hall-1:8080\". Where the first's presence is silent but its page says that it watches the saws, it has only lost the broker, and the second does not take over. Left out: presence alone counts.");
        if (page.IsStated && role is { IsGood: true, Value: true })
            o.Error(page, "is for the second gateway alone: the first watches as long as it runs, whatever the second does");
        if (topic is { IsGood: true, Value: { } own } && other.IsGood && own == other.Value)
            o.Error(other, "is the topic of this gateway; write that of the other one");
        return new StandbyOptions { IsFirst = role, Broker = broker, Topic = topic, Other = other, OtherPage = page, After = after };
    }
}
