using System.Globalization;
using MQTTnet;
using MQTTnet.Exceptions;
using MQTTnet.Protocol;
using SawEdge.Core.Alarms;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Brokers;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Notification.Mqtt;

/// <summary>
/// The state of each alarm as a retained message, see <see cref="StateTopics"/>. Each event is published in order with quality of service 1 and waits for the
/// broker's acknowledgement; where a later one of the same alarm is already stored, as after an outage, only that one.
/// </summary>
internal sealed class MqttOutlet : IOutlet
{
    private readonly MqttChannelOptions _options;
    private readonly MqttBrokerOptions _broker;
    private readonly StateTopics _topics;
    private readonly HistoryReader _reader;
    private readonly TimeProvider _time;
    private readonly BrokerClient _connection;
    private readonly IMqttClient _client;

    /// <summary>Prepares it; nothing is connected yet.</summary>
    /// <param name="options">The channel.</param>
    /// <param name="broker">Its broker. The connection is another than that of the acquisition: a client identifier is used once.</param>
    /// <param name="site">Name of the plant.</param>
    /// <param name="gateway">Name of the gateway.</param>
    /// <param name="reader">The history.</param>
    /// <param name="time">The clock.</param>
    public MqttOutlet(MqttChannelOptions options, MqttBrokerOptions broker, string site, string gateway, HistoryReader reader, TimeProvider time)
    {
        _reader = reader;
        _options = options;
        _broker = broker;
        _time = time;
        _connection = new BrokerClient(broker, time);
        _client = _connection.Client;
        _topics = new StateTopics(options.Root, site, gateway);
    }

    /// <inheritdoc/>
    public string Receiver => string.Create(CultureInfo.InvariantCulture, $"{_broker.Host}:{_broker.Port}");

    /// <inheritdoc/>
    public Gathering Gathering => Gathering.Latest;

    /// <inheritdoc/>
    public bool Takes(JournalEntry entry) => entry.AlarmEvent is not null || entry.Notice is { Notice: { Kind: NoticeKind.Test } notice } && notice.Channel == _options.Name;

    /// <inheritdoc/>
    public string GroupOf(JournalEntry entry) => entry.AlarmEvent is { Event: var happened } ? _topics.Of(happened.Subject, happened.Rule) : _topics.Test;

    /// <inheritdoc/>
    public async Task<SendResult> SendAsync(IReadOnlyList<JournalEntry> entries, bool waited, CancellationToken cancellation)
    {
        var last = entries[^1];
        // An event comes into the journal again where another consumer's refusals are sent once more: it must not take the place of what came after it.
        if (last.AlarmEvent is { } happened && await IsPastAsync(happened, cancellation))
            return SendResult.Delivered;
        var message = new MqttApplicationMessageBuilder()
            .WithTopic(GroupOf(last))
            .WithQualityOfServiceLevel(MqttQualityOfServiceLevel.AtLeastOnce)
            .WithRetainFlag(last.AlarmEvent is not null)
            .WithPayload(last.AlarmEvent is { } stored ? StatePayload.Write(stored) : StatePayload.WriteTest(last.Notice!.Notice, "A person tries this channel. Nothing is wrong, and nothing is to be done."));
        if (_broker.Version5)
            message = message.WithContentType("application/json").WithPayloadFormatIndicator(MqttPayloadFormatIndicator.CharacterData);

        using var timeout = new CancellationTokenSource(_options.Timeout, _time);
        using var either = CancellationTokenSource.CreateLinkedTokenSource(timeout.Token, cancellation);
        try
        {
            if (!_client.IsConnected)
                await _connection.ConnectAsync($"{_broker.ClientId}-{_options.Name}", _options.Timeout, options => options.WithCleanSession(), either.Token);
            return Judge(await _client.PublishAsync(message.Build(), either.Token), message.Build().Topic);
        }
        catch (BrokerException e) when (!timeout.IsCancellationRequested)
        {
            cancellation.ThrowIfCancellationRequested();
            return new SendResult(e.NeedsMending ? SendVerdict.Mend : SendVerdict.Wait, e.Message);
        }
        catch (Exception e) when (e is BrokerException or MqttCommunicationException or OperationCanceledException or IOException)
        {
            cancellation.ThrowIfCancellationRequested();
            return timeout.IsCancellationRequested || e is OperationCanceledException ? Wait(string.Create(CultureInfo.InvariantCulture, $"no answer within {_options.Timeout.TotalSeconds:0.###} s."))
                : Wait(BrokerWords.SocketErrorOf(e) is { } error ? BrokerWords.Of(error) : $"no connection: {ControllerText.CleanUpTo(e.Message, 200).TrimEnd('.')}.");
        }
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        if (_client.IsConnected)
            await _client.TryDisconnectAsync();
        _connection.Dispose();
    }

    private static SendResult Wait(string words) => new(SendVerdict.Wait, words);

    private static SendResult Judge(MqttClientPublishResult result, string topic) => result.ReasonCode switch
    {
        // Nobody listens at the moment: the state is retained all the same.
        MqttClientPublishReasonCode.Success or MqttClientPublishReasonCode.NoMatchingSubscribers => SendResult.Delivered,
        MqttClientPublishReasonCode.NotAuthorized => new SendResult(SendVerdict.Mend, $"it does not allow to publish to '{topic}'. Give the broker's user the right to it."),
        var code => Wait($"it does not take what is published to '{topic}': {code}{BrokerWords.Said(result.ReasonString)}."),
    };

    private async Task<bool> IsPastAsync(StoredAlarmEvent stored, CancellationToken cancellation)
    {
        var happened = stored.Event;
        var filter = new AlarmFilter { Rule = happened.Rule, Subject = happened.Subject.Name };
        await foreach (var latest in _reader.AlarmsAsync(filter, cancellation))
        {
            if (latest.Number > (happened.Alarm?.Number ?? 0) && latest.RaisedAt > happened.At)
                return true;
            break;
        }

        if (happened.Alarm is not { } alarm)
            return false;
        await foreach (var later in _reader.AlarmEventsAsync(happened.At, null, alarm.Number, cancellation))
        {
            if (later.Id > stored.Id)
                return true;
        }

        return false;
    }
}
