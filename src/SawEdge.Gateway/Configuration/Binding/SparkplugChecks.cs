using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>What only shows when saws with Sparkplug metrics and their brokers are seen together.</summary>
internal static class SparkplugChecks
{
    /// <summary>Runs all of them.</summary>
    public static void Run(Findings findings, GatewayOptions options)
    {
        SameMetric(findings, options);
        for (var i = 0; i < options.MqttBrokers.Count; i++)
        {
            if (options.MqttBrokers[i] is { Name: not null } broker)
                Broker(findings, $"brokers[{i}]", broker, BrokersOf(options).Contains(broker.Name));
        }
    }

    /// <summary>The brokers that saws with metrics name.</summary>
    public static IReadOnlySet<string> BrokersOf(GatewayOptions options) =>
        options.Saws.Select(saw => (saw?.Source as SparkplugSourceOptions)?.Broker).OfType<string>().ToHashSet();

    private static void Broker(Findings findings, string path, MqttBrokerOptions broker, bool isUsed)
    {
        if (!isUsed)
        {
            if (broker.Sparkplug is not null)
                findings.Warning($"{path}.sparkplug", "no saw has metrics at this broker; write \"source\": \"sparkplug\" for one, or leave this out");
            return;
        }

        if (broker.Sparkplug is not { HostId: not null } && broker.Sparkplug is not { Rebirth: true })
            findings.Warning($"{path}.sparkplug", "after each start of the gateway nothing is known of the nodes until they are started again; write \"rebirth\": true here to let the gateway ask them for their births, or a hostId for nodes that wait for it");
        if (broker.Sparkplug?.HostId is null)
            return;

        // A connection has one last will. Sparkplug 3.0, tck-id-message-flow-phid-sparkplug-clean-session-311 and -50: no session is kept.
        if (broker.PresenceTopic is not null)
            findings.Error($"{path}.sparkplug.hostId", "a connection has one last will, and presenceTopic needs it as well; keep one of the two, or describe the broker a second time with another clientId");
        if (broker.KeepSession)
            findings.Error($"{path}.keepSession", "a Sparkplug host must begin anew with each connection; leave keepSession or hostId out, or describe the broker a second time with another clientId");
    }

    private static void SameMetric(Findings findings, GatewayOptions options)
    {
        var first = new Dictionary<(string, string, string, string?, string, Signal), string>();
        for (var i = 0; i < options.Saws.Count; i++)
        {
            if (options.Saws[i]?.Source is not SparkplugSourceOptions { Broker: not null, Group: not null, Node: not null } source)
                continue;
            foreach (var mapping in source.Signals)
            {
                var path = $"saws[{i}].signals.{SignalInfo.Of(mapping.Signal).Name}";
                var place = (source.Broker, source.Group, source.Node, source.Device, mapping.Metric, mapping.Signal);
                if (!first.TryAdd(place, path))
                    findings.Warning(path, $"comes from the same place as {first[place]}; is the device right?");
            }
        }
    }
}
