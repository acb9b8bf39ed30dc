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
        ModbusSourceOptions modbus => string.Create(CultureInfo.InvariantCulture, $"{modbus.Device}, {DeviceOf(options, modbus).Endpoint}, unit {modbus.Unit}"),
        MqttSourceOptions mqtt => $"{mqtt.Broker}, {Endpoint(BrokerOf(options, mqtt.Broker))}{(mqtt.FrameTopic is { } topic ? $", topic {ControllerText.Clean(topic)}" : "")}",
        SparkplugSourceOptions sparkplug => $"{sparkplug.Broker}, {Endpoint(BrokerOf(options, sparkplug.Broker))}, {ControllerText.Clean($"{sparkplug.Group}/{sparkplug.Node}{(sparkplug.Device is { } device ? $"/{device}" : "")}")}",
        RecordingSourceOptions => "recordings, which replay alone reads",
        _ => "",
    };

    /// <summary>What helps where nothing can be read; empty where there is nothing to say.</summary>
    public static string Hint(GatewayOptions options, SawOptions saw) => saw.Source switch
    {
        ModbusSourceOptions modbus => Hint(DeviceOf(options, modbus)),
        SparkplugSourceOptions => "watch publishes nothing and so asks for no birth: of a node that was born before, nothing is understood until it is born again; restart it, or let the running gateway ask.",
        RecordingSourceOptions => "The saw's signals stand in recordings, so there is nothing live to look at: 'sawedge replay --config' reads them.",
        _ => "",
    };

    /// <summary>What helps where a device cannot be read.</summary>
    public static string Hint(ModbusDeviceOptions device) => device switch
    {
        ModbusSerialDeviceOptions => "A serial line belongs to one program at a time: if the gateway has it, stop the gateway while you look.",
        _ => "Some devices take one client only, and the running gateway may be that one: stop the gateway while you look, or raise the number of clients in the device.",
    };

    private static MqttBrokerOptions BrokerOf(GatewayOptions options, string name) => options.MqttBrokers.First(broker => broker.Name == name);

    private static ModbusDeviceOptions DeviceOf(GatewayOptions options, ModbusSourceOptions source) => options.ModbusDevices.First(device => device.Name == source.Device);

    private static string Endpoint(MqttBrokerOptions broker) => string.Create(CultureInfo.InvariantCulture, $"{broker.Host}:{broker.Port}");
}
