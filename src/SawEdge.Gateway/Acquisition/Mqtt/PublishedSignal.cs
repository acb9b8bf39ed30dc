using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Acquisition.Mqtt;

/// <summary>A signal that is published, with its place in the messages.</summary>
internal sealed class PublishedSignal(MqttMapping mapping) : MappedSignal(mapping)
{
    /// <summary>Its place.</summary>
    public MqttMapping Mapping => mapping;
}
