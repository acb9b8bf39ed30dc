namespace SawEdge.Gateway.Acquisition.Mqtt;

/// <summary>
/// Tells others whether the gateway listens: "online" and "offline", retained. Offline is the last will of the connection, and
/// published when the gateway leaves in an orderly way.
/// </summary>
/// <param name="topic">The topic.</param>
internal sealed class GatewayPresence(string topic) : ITopicListener
{
    /// <inheritdoc/>
    public IReadOnlyCollection<string> Filters => [];

    /// <inheritdoc/>
    public IEnumerable<string> Saws => [];

    /// <inheritdoc/>
    public IEnumerable<string> SawsOf(string filter) => [];

    /// <inheritdoc/>
    public void Receive(string topic, ReadOnlySpan<byte> payload, MessageMarks marks)
    {
    }

    /// <inheritdoc/>
    public void BrokerLost()
    {
    }

    /// <inheritdoc/>
    public void Complete()
    {
    }

    /// <inheritdoc/>
    public OwnMessage? LastWill() => new(topic, "offline"u8.ToArray(), AtLeastOnce: true, Retain: true);

    /// <inheritdoc/>
    public void Listening(IOwnPublisher publisher) => publisher.TryPublish(new OwnMessage(topic, "online"u8.ToArray(), AtLeastOnce: true, Retain: true));
}
