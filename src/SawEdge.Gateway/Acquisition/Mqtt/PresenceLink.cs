using System.Text;
using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Acquisition.Mqtt;

/// <summary>What is known of two gateways that tell each other by a broker what they do.</summary>
/// <param name="IsConnected">Whether the broker is there.</param>
/// <param name="Other">What the other says, "offline" included; null: nothing.</param>
/// <param name="Confirmed">What this one says, once the broker has handed it round; null: not yet.</param>
internal readonly record struct PresenceView(bool IsConnected, string? Other, string? Confirmed);

/// <summary>
/// The way of two gateways to each other: a connection of its own to a broker, a retained topic of each, and a last will. What is said counts once it
/// has come back from the broker, because a broker hands messages round in one order: of two who speak at once, one has heard the other by then.
/// </summary>
internal sealed class PresenceLink : ITopicListener
{
    /// <summary>What the last will says.</summary>
    public const string Offline = "offline";

    private const int LongestWord = 32;
    private static readonly TimeSpan Pause = TimeSpan.FromSeconds(1);

    private readonly Lock _gate = new();
    private readonly string _own;
    private readonly string _other;
    private readonly MqttBrokerOptions _broker;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private IOwnPublisher? _publisher;
    private string _word;
    private PresenceView _view;

    /// <summary>Prepares; <see cref="RunAsync"/> connects.</summary>
    /// <param name="broker">The broker.</param>
    /// <param name="standby">The topics.</param>
    /// <param name="word">What this one says first.</param>
    /// <param name="time">Pauses.</param>
    /// <param name="logger">Where it speaks.</param>
    public PresenceLink(MqttBrokerOptions broker, StandbyOptions standby, string word, TimeProvider time, ILogger logger)
    {
        (_own, _other, _word, _time, _logger) = (standby.Topic, standby.Other, word, time, logger);
        _broker = broker with { ClientId = broker.ClientId + "-standby", PresenceTopic = null, KeepSession = false, Sparkplug = null };
    }

    /// <summary>What is known now.</summary>
    public PresenceView View
    {
        get
        {
            lock (_gate)
                return _view;
        }
    }

    /// <inheritdoc/>
    public IReadOnlyCollection<string> Filters => [_own, _other];

    /// <inheritdoc/>
    public IEnumerable<string> Saws => [];

    /// <inheritdoc/>
    public IEnumerable<string> SawsOf(string filter) => [];

    /// <summary>Says another word from now on.</summary>
    public void Say(string word)
    {
        lock (_gate)
        {
            _word = word;
            _view = _view with { Confirmed = null };
            _publisher?.TryPublish(Own(word));
        }
    }

    /// <inheritdoc/>
    public void Receive(string topic, ReadOnlySpan<byte> payload, MessageMarks marks)
    {
        var word = payload.Length is 0 or > LongestWord ? null : Encoding.UTF8.GetString(payload);
        lock (_gate)
        {
            if (topic == _other)
                _view = _view with { Other = word };
            else if (topic == _own && word == _word && (marks & MessageMarks.Retained) == 0)
                _view = _view with { Confirmed = word };
        }
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
    public OwnMessage? LastWill() => Own(Offline);

    /// <inheritdoc/>
    public void Listening(IOwnPublisher publisher)
    {
        lock (_gate)
        {
            _publisher = publisher;
            _view = _view with { IsConnected = true };
            publisher.TryPublish(Own(_word));
        }
    }

    /// <summary>Keeps the connection until cancelled; what is wrong with the broker is said once when it begins and once when it ends.</summary>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        var session = new MqttSession(_broker, new ListenerSet([this]), _time, _logger);
        long? awaySince = null;
        while (true)
        {
            try
            {
                await session.RunAsync(
                    () =>
                    {
                        if (awaySince is { } since)
                            MqttLog.LinkIsBack(_logger, _broker.Name, _time.GetElapsedTime(since).TotalSeconds);
                        awaySince = null;
                    },
                    cancellation);
            }
            catch (Exception e) when (MqttBrokerSource.IsTrouble(e) && !cancellation.IsCancellationRequested)
            {
                if (awaySince is null)
                    MqttLog.LinkIsAway(_logger, _broker.Name, e.Message);
                awaySince ??= _time.GetTimestamp();
            }
            finally
            {
                lock (_gate)
                    (_publisher, _view) = (null, default);
            }

            await Task.Delay(Pause, _time, cancellation);
        }
    }

    private OwnMessage Own(string word) => new(_own, Encoding.UTF8.GetBytes(word), AtLeastOnce: true, Retain: true);
}
