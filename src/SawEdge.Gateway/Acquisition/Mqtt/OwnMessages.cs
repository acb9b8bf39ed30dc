using System.Threading.Channels;
using MQTTnet;
using MQTTnet.Protocol;

namespace SawEdge.Gateway.Acquisition.Mqtt;

/// <summary>What the gateway publishes over one connection: in order, and never more than a few waiting.</summary>
internal sealed class OwnMessages : IOwnPublisher
{
    private const int MostWaiting = 1000;

    private readonly Channel<OwnMessage> _waiting = Channel.CreateBounded<OwnMessage>(new BoundedChannelOptions(MostWaiting) { SingleReader = true });

    /// <inheritdoc/>
    public bool TryPublish(OwnMessage message) => _waiting.Writer.TryWrite(message);

    /// <summary>Takes nothing more.</summary>
    public void Close() => _waiting.Writer.TryComplete();

    /// <summary>Publishes what comes until it is cancelled or the connection is lost.</summary>
    /// <param name="client">The connection.</param>
    /// <param name="published">Hears of each message and what the broker said to it.</param>
    /// <param name="stop">Ends it.</param>
    public async Task RunAsync(IMqttClient client, Action<OwnMessage, MqttClientPublishResult> published, CancellationToken stop)
    {
        await foreach (var message in _waiting.Reader.ReadAllAsync(stop))
            published(message, await client.PublishAsync(Of(message), stop));
    }

    /// <summary>The message as the library wants it.</summary>
    public static MqttApplicationMessage Of(OwnMessage message) => new()
    {
        Topic = message.Topic,
        Payload = new(message.Payload),
        QualityOfServiceLevel = message.AtLeastOnce ? MqttQualityOfServiceLevel.AtLeastOnce : MqttQualityOfServiceLevel.AtMostOnce,
        Retain = message.Retain,
    };
}
