using System.Net.Sockets;
using System.Security.Authentication;
using Microsoft.Extensions.Logging;
using MQTTnet.Exceptions;
using Polly;
using Polly.Retry;
using SawEdge.Gateway.Acquisition.Sparkplug;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Acquisition.Mqtt;

/// <summary>
/// Listens to one MQTT broker for all who want its messages, over one connection, with quality of service 1. A broker that
/// cannot be reached, refuses the gateway or throws it out is tried again at growing, jittered intervals; that is said once when
/// it begins and once when it ends.
/// </summary>
/// <remarks>
/// When the broker is lost, each saw that delivered gets one frame whose signals are all marked
/// <see cref="SawEdge.Core.Signals.SignalQuality.SourceFault"/>, and then none until something comes again.
/// </remarks>
public sealed class MqttBrokerSource : ISawSource
{
    private static readonly TimeSpan FirstReconnect = TimeSpan.FromMilliseconds(500);
    private static readonly TimeSpan LongestReconnect = TimeSpan.FromSeconds(30);

    // A broker that takes us in and throws us out at once must not be asked again at once.
    private static readonly TimeSpan LastingSession = TimeSpan.FromSeconds(10);

    private readonly MqttBrokerOptions _broker;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly ListenerSet _listeners;
    private readonly FrameClock? _clock;
    private readonly MqttSession _session;
    private readonly ResiliencePipeline _reconnect;
    private IReadOnlyList<SawInbox> _inboxes = [];
    private long? _awaySince;

    /// <summary>Prepares to listen for saws whose signals are in payloads; <see cref="RunAsync"/> does it.</summary>
    /// <param name="broker">The broker.</param>
    /// <param name="saws">The saws that publish to it, each with the inbox that takes its frames.</param>
    /// <param name="clock">The time of frames that bring none of their own; one for the whole gateway, on the same time provider.</param>
    /// <param name="time">Pauses and bursts.</param>
    /// <param name="logger">Takes the messages.</param>
    /// <param name="observer">Sees the values as they are written, or null: for a person who looks at one saw.</param>
    /// <exception cref="ArgumentException">A saw does not publish to this broker, or a mapping cannot be used.</exception>
    public MqttBrokerSource(
        MqttBrokerOptions broker,
        IReadOnlyList<(SawOptions Saw, SawInbox Inbox)> saws,
        FrameClock clock,
        TimeProvider time,
        ILogger<MqttBrokerSource> logger,
        IRawValueObserver? observer = null)
        : this(broker, Listeners(broker, saws, clock, time, logger, observer), time, logger) =>
        (_clock, _inboxes) = (clock, [.. saws.Select(saw => saw.Inbox)]);

    /// <summary>Prepares to listen for whoever wants messages of the broker.</summary>
    /// <param name="broker">The broker.</param>
    /// <param name="listeners">Who wants its messages; at most one of them has a last will.</param>
    /// <param name="time">Pauses.</param>
    /// <param name="logger">Takes the messages.</param>
    internal MqttBrokerSource(MqttBrokerOptions broker, IReadOnlyList<ITopicListener> listeners, TimeProvider time, ILogger<MqttBrokerSource> logger)
    {
        _broker = broker;
        _time = time;
        _logger = logger;
        _listeners = new ListenerSet(broker.PresenceTopic is { } presence ? [.. listeners, new GatewayPresence(presence)] : listeners);
        ArgumentOutOfRangeException.ThrowIfZero(SawNames().Length);
        _session = new MqttSession(broker, _listeners, time, logger);
        _reconnect = new ResiliencePipelineBuilder { TimeProvider = time }
            .AddRetry(new RetryStrategyOptions
            {
                ShouldHandle = arguments => ValueTask.FromResult(IsTrouble(arguments.Outcome.Exception) && !arguments.Context.CancellationToken.IsCancellationRequested),
                MaxRetryAttempts = int.MaxValue,
                BackoffType = DelayBackoffType.Exponential,
                UseJitter = true,
                Delay = FirstReconnect,
                MaxDelay = LongestReconnect,
                OnRetry = attempt =>
                {
                    BeginOutage(attempt.Outcome.Exception!.Message);
                    MqttLog.ListeningFailed(_logger, _broker.Name, attempt.Outcome.Exception.Message);
                    foreach (var inbox in Volatile.Read(ref _inboxes))
                        inbox.Errors.Count(SourceError.Connection);
                    return default;
                },
            })
            .Build();
    }

    /// <summary>Messages received so far.</summary>
    public long Messages => _session.Messages;

    /// <summary>Connections made so far.</summary>
    public long Connections => _session.Connections;

    /// <summary>Whether the broker cannot be listened to at present.</summary>
    public bool IsAway => _awaySince is not null;

    /// <summary>Whether the topics are subscribed to at present.</summary>
    public bool IsListening { get; private set; }

    /// <inheritdoc/>
    string ISawSource.What => $"subscription at {_broker.Name}";

    /// <inheritdoc/>
    PollCounters? ISawSource.CountersOf(string saw) => null;

    /// <inheritdoc/>
    Task ISawSource.AddAsync(SawOptions saw, SawInbox inbox, CancellationToken cancellation)
    {
        var clock = _clock ?? throw new InvalidOperationException("Saws can be added only where they were given from the start.");
        if (saw.Source is SparkplugSourceOptions)
        {
            _listeners.Exchange(listeners =>
            {
                if (listeners.OfType<SparkplugListener>().FirstOrDefault() is not { } known)
                    return [.. listeners, new SparkplugListener(_broker, [(saw, inbox)], clock, _time, _logger)];
                known.Add(saw, inbox);
                return listeners;
            });
        }
        else
        {
            var made = new MqttSaw(_broker, saw, inbox, clock, _time, _logger);
            _listeners.Exchange(listeners => [.. listeners.Where(listener => listener is not TopicRoutes), listeners.OfType<TopicRoutes>().FirstOrDefault()?.With(made) ?? new TopicRoutes([made], _broker.Name, _logger)]);
        }

        Volatile.Write(ref _inboxes, [.. _inboxes, inbox]);
        MqttLog.Starts(_logger, _broker.Name, _broker.Host, _broker.Port, SawNames());
        return Task.CompletedTask;
    }

    /// <inheritdoc/>
    Task ISawSource.RemoveAsync(string saw, CancellationToken cancellation)
    {
        _listeners.Exchange(listeners =>
        {
            foreach (var listener in listeners.OfType<SparkplugListener>())
                listener.Remove(saw);
            return [.. listeners.Select(listener => listener is TopicRoutes routes ? routes.Without(saw) : listener)];
        });
        Volatile.Write(ref _inboxes, [.. _inboxes.Where(inbox => inbox.Saw != saw)]);
        return Task.CompletedTask;
    }

    /// <summary>Listens until it is stopped, then says in each inbox that no frame will follow.</summary>
    /// <param name="stop">Stops it; the task then ends without an exception.</param>
    public async Task RunAsync(CancellationToken stop)
    {
        MqttLog.Starts(_logger, _broker.Name, _broker.Host, _broker.Port, SawNames());
        try
        {
            while (true)
            {
                await _reconnect.ExecuteAsync(static (self, cancellation) => self.ListenAsync(cancellation), this, stop);
            }
        }
        catch (Exception e) when (stop.IsCancellationRequested && (e is OperationCanceledException || IsTrouble(e)))
        {
            // Stopping is no failure, and neither is a broker that is lost in the same moment.
        }
        finally
        {
            foreach (var listener in _listeners.Now)
                listener.Complete();
        }
    }

    // One session, from the connection to its loss. Ends without an exception only where the session had lasted: then the next
    // attempt comes at once, and begins anew with short pauses.
    private async ValueTask ListenAsync(CancellationToken stop)
    {
        long? begun = null;
        try
        {
            await _session.RunAsync(
                () =>
                {
                    begun = _time.GetTimestamp();
                    IsListening = true;
                    EndOutage();
                },
                stop);
        }
        catch (Exception e) when (begun is { } since && IsTrouble(e) && !stop.IsCancellationRequested && _time.GetElapsedTime(since) >= LastingSession)
        {
            BeginOutage(e.Message);
        }
        finally
        {
            IsListening = false;
        }
    }

    /// <summary>Whether something is wrong with a broker or the way to it, and not with the program.</summary>
    internal static bool IsTrouble(Exception? e) =>
        e is MqttSessionException or MqttCommunicationException or MqttProtocolViolationException or SocketException or IOException or TimeoutException or AuthenticationException;

    private void BeginOutage(string reason)
    {
        if (_awaySince is not null)
            return;
        _awaySince = _time.GetTimestamp();
        MqttLog.BrokerIsAway(_logger, _broker.Name, SawNames(), reason, LongestReconnect.TotalSeconds);
        foreach (var listener in _listeners.Now)
            listener.BrokerLost();
    }

    private void EndOutage()
    {
        if (_awaySince is not { } since)
            return;
        _awaySince = null;
        MqttLog.BrokerIsBack(_logger, _broker.Name, _time.GetElapsedTime(since).TotalSeconds);
    }

    private static List<ITopicListener> Listeners(MqttBrokerOptions broker, IReadOnlyList<(SawOptions Saw, SawInbox Inbox)> saws, FrameClock clock, TimeProvider time, ILogger logger, IRawValueObserver? observer)
    {
        var sparkplug = saws.Where(saw => saw.Saw.Source is SparkplugSourceOptions).ToList();
        List<ITopicListener> listeners = [];
        if (sparkplug.Count < saws.Count)
            listeners.Add(new TopicRoutes(saws.Except(sparkplug).Select(saw => new MqttSaw(broker, saw.Saw, saw.Inbox, clock, time, logger, observer)), broker.Name, logger));
        if (sparkplug.Count > 0)
            listeners.Add(new SparkplugListener(broker, sparkplug, clock, time, logger, observer));
        return listeners;
    }

    private string SawNames() => string.Join(", ", _listeners.Now.SelectMany(listener => listener.Saws));
}
