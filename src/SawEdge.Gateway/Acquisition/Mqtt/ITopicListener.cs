namespace SawEdge.Gateway.Acquisition.Mqtt;

/// <summary>What the broker says about a message beside its payload.</summary>
[Flags]
internal enum MessageMarks : byte
{
    /// <summary>Nothing: it was published just now, and comes for the first time.</summary>
    None = 0,

    /// <summary>The broker had kept it from earlier: old news.</summary>
    Retained = 1,

    /// <summary>It may have been delivered before, because our acknowledgement was lost.</summary>
    Duplicate = 2,
}

/// <summary>A message that the gateway publishes itself, which is about itself.</summary>
/// <param name="Topic">Its topic.</param>
/// <param name="Payload">Its payload.</param>
/// <param name="AtLeastOnce">Whether with quality of service 1; otherwise 0.</param>
/// <param name="Retain">Whether the broker keeps it.</param>
internal sealed record OwnMessage(string Topic, byte[] Payload, bool AtLeastOnce, bool Retain);

/// <summary>Takes what the gateway publishes over one connection.</summary>
internal interface IOwnPublisher
{
    /// <summary>Hands a message over, to be published soon and in order; never waits.</summary>
    /// <returns>Whether it was taken; not when the connection is gone or far too much is waiting already.</returns>
    bool TryPublish(OwnMessage message);
}

/// <summary>
/// Who wants messages of a broker. All listeners of a broker share its one connection: each is given every message that comes,
/// and looks past those that are none of its own. <see cref="Receive"/> is called for one message at a time.
/// </summary>
internal interface ITopicListener
{
    /// <summary>What to subscribe to, with quality of service 1.</summary>
    IReadOnlyCollection<string> Filters { get; }

    /// <summary>Names of the saws whose signals come this way, for messages.</summary>
    IEnumerable<string> Saws { get; }

    /// <summary>Names of the saws that a filter serves, for messages.</summary>
    IEnumerable<string> SawsOf(string filter);

    /// <summary>Takes a message; must not throw, whatever it holds.</summary>
    /// <param name="topic">Its topic.</param>
    /// <param name="payload">Its payload; of no use after the call.</param>
    /// <param name="marks">What the broker says about it.</param>
    void Receive(string topic, ReadOnlySpan<byte> payload, MessageMarks marks);

    /// <summary>The broker is lost, or cannot be reached from the start: called once, until it is connected again.</summary>
    void BrokerLost();

    /// <summary>No message will follow.</summary>
    void Complete();

    /// <summary>
    /// What the broker publishes if the gateway is gone without a word. Asked for before each connection, and once more when the
    /// gateway leaves in an orderly way: then the gateway publishes it itself. One listener of a broker can have one.
    /// </summary>
    OwnMessage? LastWill() => null;

    /// <summary>All that the broker allows is subscribed to.</summary>
    /// <param name="publisher">Takes what is to be published over this connection.</param>
    void Listening(IOwnPublisher publisher)
    {
    }
}
