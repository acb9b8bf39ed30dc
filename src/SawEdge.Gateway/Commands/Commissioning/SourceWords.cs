using System.Globalization;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>Where a saw's signals come from, in words.</summary>
internal static class SourceWords
{
    /// <summary>The connection.</summary>
    public static string Of(GatewayOptions options, SawOptions saw) => saw.Source switch
    {
        ModbusSourceOptions modbus => string.Create(CultureInfo.InvariantCulture, $"{modbus.Device}, {Endpoint(options.ModbusDevices.First(device => device.Name == modbus.Device))}, unit {modbus.Unit}"),
        MqttSourceOptions mqtt => $"{mqtt.Broker}, {Endpoint(options.MqttBrokers.First(broker => broker.Name == mqtt.Broker))}{(mqtt.FrameTopic is { } topic ? $", topic {ControllerText.Clean(topic)}" : "")}",
        SparkplugSourceOptions sparkplug => $"{sparkplug.Broker}, {Endpoint(options.MqttBrokers.First(broker => broker.Name == sparkplug.Broker))}, node {sparkplug.Group}/{sparkplug.Node}{(sparkplug.Device is { } device ? $", device {device}" : "")}",
        RecordingSourceOptions => "recordings, which replay alone reads",
        _ => "",
    };

    /// <summary>What helps where nothing can be read; empty where there is nothing to say.</summary>
    public static string Hint(GatewayOptions options, SawOptions saw) => saw.Source switch
    {
        ModbusSourceOptions => "Some devices take one client only, and the running gateway may be that one: stop the gateway while you look, or raise the number of clients in the device.",
        SparkplugSourceOptions source when options.MqttBrokers.First(broker => broker.Name == source.Broker).Sparkplug is not { Rebirth: true } => "What a node's data mean stands in its birth, and the gateway does not ask for births: write \"rebirth\": true under \"sparkplug\" of the broker, or start the node again while you look.",
        RecordingSourceOptions => "The saw's signals stand in recordings, so there is nothing live to look at: 'sawedge replay --config' reads them.",
        _ => "",
    };

    private static string Endpoint(ModbusDeviceOptions device) => device.Endpoint;

    private static string Endpoint(MqttBrokerOptions broker) => string.Create(CultureInfo.InvariantCulture, $"{broker.Host}:{broker.Port}");
}
