using MQTTnet;
using MQTTnet.Adapter;
using MQTTnet.Diagnostics.Logger;
using MQTTnet.Formatter;
using MQTTnet.Implementations;

namespace SawEdge.Gateway.Brokers;

/// <summary>Gives the library connections with a <see cref="BoundedChannel"/>.</summary>
/// <param name="largestPayload">The limit of a payload, bytes.</param>
internal sealed class BoundedChannelFactory(int largestPayload) : IMqttClientAdapterFactory
{
    /// <summary>The channel of the present connection, or null.</summary>
    public BoundedChannel? Current { get; private set; }

    /// <inheritdoc/>
    public IMqttChannelAdapter CreateClientAdapter(MqttClientOptions options, MqttPacketInspector packetInspector, IMqttNetLogger logger)
    {
        Current = new BoundedChannel(new MqttTcpChannel(options), largestPayload, options.ProtocolVersion == MqttProtocolVersion.V500);
        var formatter = new MqttPacketFormatterAdapter(options.ProtocolVersion, new MqttBufferWriter(options.WriterBufferSize, options.WriterBufferSizeMax));
        return new MqttChannelAdapter(Current, formatter, logger) { AllowPacketFragmentation = options.AllowPacketFragmentation, PacketInspector = packetInspector };
    }
}
