using System.Buffers;
using Microsoft.Extensions.Logging;
using MQTTnet;
using MQTTnet.Exceptions;
using MQTTnet.Packets;
using MQTTnet.Protocol;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Brokers;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Acquisition.Mqtt;

/// <summary>A session came to its end, or did not come about; the message says why.</summary>
internal sealed class MqttSessionException(string message, Exception? inner = null) : Exception(message, inner);

/// <summary>One connection to a broker after the other: connect, subscribe, hand on messages until the connection is lost.</summary>
internal sealed class MqttSession(MqttBrokerOptions broker, ListenerSet listeners, TimeProvider time, ILogger logger)
{
    /// <summary>How often a topic that was refused is asked for again.</summary>
    public static readonly TimeSpan AskAgain = TimeSpan.FromSeconds(30);

    private static readonly TimeSpan AnswerWithin = TimeSpan.FromSeconds(10);
    private static readonly TimeSpan KeptFor = TimeSpan.FromDays(1);
    private static readonly TimeSpan FarewellWithin = TimeSpan.FromSeconds(2);
    private const int TopicsPerRequest = 100;

    private readonly HashSet<string> _refused = new(StringComparer.Ordinal);
    private readonly HashSet<string> _refusedOwn = new(StringComparer.Ordinal);
    private long _messages;
    private long _connections;

    /// <summary>Messages received so far.</summary>
    public long Messages => Interlocked.Read(ref _messages);

    /// <summary>Connections made so far.</summary>
    public long Connections => Interlocked.Read(ref _connections);

    /// <summary>Runs one session to its end.</summary>
    /// <param name="listening">Called when all that the broker allows is subscribed to.</param>
    /// <param name="stop">Ends the session in an orderly way.</param>
    /// <exception cref="MqttSessionException">The broker refused, or the connection was lost.</exception>
    /// <exception cref="OperationCanceledException">It was stopped, or the broker did not answer.</exception>
    public async Task RunAsync(Action listening, CancellationToken stop)
    {
        using var connection = new BrokerClient(broker, time);
        var client = connection.Client;
        var lost = new TaskCompletionSource<MqttSessionException>(TaskCreationOptions.RunContinuationsAsynchronously);
        client.DisconnectedAsync += e =>
        {
            lost.TrySetResult(new MqttSessionException(Reason(e), e.Exception));
            return Task.CompletedTask;
        };
        client.ApplicationMessageReceivedAsync += e =>
        {
            try
            {
                Deliver(e.ApplicationMessage);
            }
            catch (Exception fault)
            {
                // A mistake of ours: it must end the source, not be lost in the client's dispatcher.
                lost.TrySetException(fault);
            }
            finally
            {
                connection.Handled();
            }

            return Task.CompletedTask;
        };

        var own = new OwnMessages();
        using var ended = CancellationTokenSource.CreateLinkedTokenSource(stop);
        var publishing = Task.CompletedTask;
        try
        {
            await ConnectAsync(connection, stop);
            var changed = listeners.Changed;
            var filters = listeners.Filters;
            await SubscribeAsync(client, filters, stop);
            publishing = PublishAsync(own, client, lost, ended.Token);
            var told = listeners.Now;
            foreach (var listener in told)
                listener.Listening(own);
            listening();
            await StayAsync(client, lost.Task, own, (filters, told), changed, stop);
        }
        catch (Exception e) when (e is OperationCanceledException or MqttCommunicationTimedOutException && !stop.IsCancellationRequested)
        {
            // The client's way to say that an answer did not come in time.
            throw new MqttSessionException($"{broker.Host}:{broker.Port} did not answer within {AnswerWithin.TotalSeconds} s.", e);
        }
        finally
        {
            own.Close();
            await ended.CancelAsync();
            await publishing;
            if (client.IsConnected)
                await LeaveAsync(client);
        }
    }

    // A broker does not publish the last will of a client that takes its leave.
    private async Task LeaveAsync(IMqttClient client)
    {
        using var within = new CancellationTokenSource(FarewellWithin, time);
        try
        {
            if (LastWill() is { } will)
                await client.PublishAsync(OwnMessages.Of(will), within.Token);
        }
        catch (Exception e) when (e is MqttCommunicationException or OperationCanceledException)
        {
            // The connection went just now, or the broker is too slow: it publishes the will by itself unless we say goodbye.
            return;
        }

        await client.TryDisconnectAsync();
    }

    private OwnMessage? LastWill() => listeners.Now.Select(listener => listener.LastWill()).OfType<OwnMessage>().SingleOrDefault();

    // The loss of the connection is told elsewhere; whatever else goes wrong here ends the session.
    private async Task PublishAsync(OwnMessages own, IMqttClient client, TaskCompletionSource<MqttSessionException> lost, CancellationToken ended)
    {
        try
        {
            await own.RunAsync(client, Note, ended);
        }
        catch (OperationCanceledException) when (ended.IsCancellationRequested)
        {
        }
        catch (Exception e)
        {
            lost.TrySetResult(new MqttSessionException($"What the gateway publishes could not be sent: {ControllerText.Clean(e.Message)}", e));
        }
    }

    private async Task ConnectAsync(BrokerClient connection, CancellationToken stop)
    {
        using var timeout = new CancellationTokenSource(AnswerWithin, time);
        using var within = CancellationTokenSource.CreateLinkedTokenSource(stop, timeout.Token);
        try
        {
            await connection.ConnectAsync(broker.ClientId, AnswerWithin, Configure, within.Token);
        }
        catch (BrokerException e)
        {
            throw new MqttSessionException($"{broker.Host}:{broker.Port}: {e.Message}", e);
        }

        Interlocked.Increment(ref _connections);
    }

    private MqttClientOptionsBuilder Configure(MqttClientOptionsBuilder options)
    {
        options = options.WithCleanSession(!broker.KeepSession);
        if (broker.Version5 && broker.KeepSession)
            options = options.WithSessionExpiryInterval((uint)KeptFor.TotalSeconds);
        return LastWill() is not { } will ? options : options
            .WithWillTopic(will.Topic)
            .WithWillPayload(will.Payload)
            .WithWillRetain(will.Retain)
            .WithWillQualityOfServiceLevel(will.AtLeastOnce ? MqttQualityOfServiceLevel.AtLeastOnce : MqttQualityOfServiceLevel.AtMostOnce);
    }

    private async Task SubscribeAsync(IMqttClient client, IReadOnlyCollection<string> filters, CancellationToken stop)
    {
        foreach (var some in filters.Chunk(TopicsPerRequest))
        {
            var options = new MqttClientSubscribeOptions
            {
                TopicFilters = [.. some.Select(filter => new MqttTopicFilter { Topic = filter, QualityOfServiceLevel = MqttQualityOfServiceLevel.AtLeastOnce })],
            };

            // Without a token of ours the library waits for an answer no longer than it was told to.
            var result = await client.SubscribeAsync(options, CancellationToken.None).WaitAsync(stop);
            foreach (var item in result.Items)
                Note(item);
        }
    }

    private void Note(MqttClientSubscribeResultItem item)
    {
        var topic = item.TopicFilter.Topic;
        if (item.ResultCode <= MqttClientSubscribeResultCode.GrantedQoS2)
        {
            if (_refused.Remove(topic))
                MqttLog.TopicIsAllowed(logger, broker.Name, topic);
        }
        else if (_refused.Add(topic))
        {
            MqttLog.TopicIsRefused(logger, broker.Name, topic, item.ResultCode.ToString(), string.Join(", ", listeners.Now.SelectMany(listener => listener.SawsOf(topic))), AskAgain.TotalSeconds);
        }
    }

    private void Note(OwnMessage message, MqttClientPublishResult result)
    {
        if (result.IsSuccess)
        {
            if (_refusedOwn.Remove(message.Topic))
                MqttLog.OwnIsTaken(logger, broker.Name, message.Topic);
        }
        else if (_refusedOwn.Add(message.Topic))
        {
            MqttLog.OwnIsRefused(logger, broker.Name, message.Topic, $"{result.ReasonCode}{BrokerWords.Said(result.ReasonString)}");
        }
    }

    private async Task StayAsync(IMqttClient client, Task<MqttSessionException> lost, OwnMessages own, (IReadOnlyCollection<string> Filters, IReadOnlyList<ITopicListener> Told) done, Task changed, CancellationToken stop)
    {
        while (true)
        {
            try
            {
                await Task.WhenAny(lost, changed).WaitAsync(_refused.Count > 0 ? AskAgain : Timeout.InfiniteTimeSpan, time, stop);
            }
            catch (TimeoutException)
            {
                // Nothing was lost: time to ask for the refused topics again.
                await SubscribeAsync(client, [.. _refused], stop);
                continue;
            }

            if (lost.IsCompleted)
                throw await lost;
            changed = listeners.Changed;
            var (wanted, now) = (listeners.Filters, listeners.Now);
            await LetGoAsync(client, [.. done.Filters.Except(wanted)], stop);
            await SubscribeAsync(client, [.. wanted.Except(done.Filters)], stop);
            foreach (var listener in now.Except(done.Told))
                listener.Listening(own);
            done = (wanted, now);
        }
    }

    private async Task LetGoAsync(IMqttClient client, IReadOnlyCollection<string> filters, CancellationToken stop)
    {
        foreach (var some in filters.Chunk(TopicsPerRequest))
        {
            _refused.ExceptWith(some);
            await client.UnsubscribeAsync(new MqttClientUnsubscribeOptions { TopicFilters = [.. some] }, CancellationToken.None).WaitAsync(stop);
        }
    }

    private void Deliver(MqttApplicationMessage message)
    {
        Interlocked.Increment(ref _messages);
        var marks = (message.Retain ? MessageMarks.Retained : MessageMarks.None) | (message.Dup ? MessageMarks.Duplicate : MessageMarks.None);
        var payload = message.Payload;
        if (payload.IsSingleSegment)
        {
            listeners.Deliver(message.Topic, payload.FirstSpan, marks);
            return;
        }

        var whole = ArrayPool<byte>.Shared.Rent(checked((int)payload.Length));
        try
        {
            payload.CopyTo(whole);
            listeners.Deliver(message.Topic, whole.AsSpan(0, (int)payload.Length), marks);
        }
        finally
        {
            ArrayPool<byte>.Shared.Return(whole);
        }
    }

    private string Reason(MqttClientDisconnectedEventArgs e)
    {
        var reason = e switch
        {
            { Exception: { } exception } => ControllerText.Clean(exception.InnerException?.Message ?? exception.Message) + ".",
            { Reason: MqttClientDisconnectReason.SessionTakenOver } => $"another client has taken the identifier {broker.ClientId}; each needs its own.",

            // Older brokers close the connection without a word when they give the identifier to another client.
            { Reason: MqttClientDisconnectReason.NormalDisconnection } => $"the broker closed it without saying why. If this comes again and again, look for another client with the identifier {broker.ClientId}.",
            _ => $"{e.Reason}{BrokerWords.Said(e.ReasonString)}.",
        };
        return $"The connection to {broker.Host}:{broker.Port} was lost: {reason}";
    }
}
