using System.Net.Sockets;
using MQTTnet;
using MQTTnet.Exceptions;
using MQTTnet.Formatter;
using SawEdge.Core.Signals;
using SawEdge.Simulator.Saws;

namespace SawEdge.Simulator.Mqtt;

/// <summary>
/// A controller that publishes: one virtual saw to one broker, frame by frame. Where the broker goes away it tries again
/// every second; frames of that time are lost, as with a real controller.
/// </summary>
public sealed class MqttPublisher : IAsyncDisposable
{
    private static readonly TimeSpan RetryPause = TimeSpan.FromSeconds(1);

    private readonly IFrameSource _saw;
    private readonly MqttPublisherOptions _options;
    private readonly TimeProvider _clock;
    private readonly IMqttClient _client = new MqttClientFactory().CreateMqttClient();
    private readonly MqttClientOptions _connection;
    private readonly CancellationTokenSource _stop = new();
    private readonly byte[]?[] _latest = new byte[]?[SignalInfo.Count];
    private readonly Task _publishing;
    private long _published;

    /// <summary>Starts publishing.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="options">Where and how.</param>
    /// <param name="clock">The saw's own time, in which the interval counts.</param>
    public MqttPublisher(IFrameSource saw, MqttPublisherOptions options, TimeProvider clock)
    {
        _saw = saw;
        _options = options;
        _clock = clock;
        var builder = new MqttClientOptionsBuilder()
            .WithTcpServer(options.Host, options.Port)
            .WithClientId(options.ClientId)
            .WithProtocolVersion(options.Version5 ? MqttProtocolVersion.V500 : MqttProtocolVersion.V311);
        if (options.User is not null)
            builder = builder.WithCredentials(options.User, options.Password);
        _connection = builder.Build();
        _publishing = Task.Run(() => PublishAsync(_stop.Token));
    }

    /// <summary>Messages that the broker took so far.</summary>
    public long Published => Interlocked.Read(ref _published);

    /// <summary>Why the broker cannot be reached at the moment; null where it can.</summary>
    public string? Trouble { get; private set; }

    /// <summary>Ends with the publishing; faulted where it ended unexpectedly.</summary>
    public Task Completion => _publishing;

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        await _publishing;
        _client.Dispose();
        _stop.Dispose();
    }

    private async Task PublishAsync(CancellationToken stop)
    {
        using var pace = new PeriodicTimer(_options.Interval, _clock);
        try
        {
            while (await pace.WaitForNextTickAsync(stop))
            {
                try
                {
                    if (!_client.IsConnected)
                        await ConnectAsync(stop);
                    if (_saw.TryRead(out var frame))
                        await PublishAsync(frame, stop);
                    Trouble = null;
                }
                catch (Exception e) when (IsTrouble(e) && !stop.IsCancellationRequested)
                {
                    Trouble = e.Message;
                    // The broker's absence is a matter of the real network: this pause is not sped up with the saw.
                    await Task.Delay(RetryPause, TimeProvider.System, stop);
                }
            }
        }
        catch (Exception e) when (IsTrouble(e) && stop.IsCancellationRequested)
        {
            // The library reports a wait that was cancelled as a cancellation, a timeout or a lost connection.
        }

        if (_client.IsConnected)
            await DisconnectAsync();
    }

    // InvalidOperationException: the library refuses to connect while the loss of the last connection is still being worked off.
    private static bool IsTrouble(Exception e) =>
        e is MqttCommunicationException or OperationCanceledException or SocketException or IOException or TimeoutException or InvalidOperationException;

    private async Task DisconnectAsync()
    {
        try
        {
            await _client.DisconnectAsync(cancellationToken: CancellationToken.None);
        }
        catch (Exception e) when (IsTrouble(e))
        {
            Trouble = e.Message;
        }
    }

    private async Task ConnectAsync(CancellationToken stop)
    {
        await _client.ConnectAsync(_connection, stop);
        // A broker that forgot everything gets every signal anew.
        Array.Clear(_latest);
    }

    private async Task PublishAsync(SignalFrame frame, CancellationToken stop)
    {
        if (!_options.TopicPerSignal)
        {
            await PublishAsync(_options.Topic, FramePayload.Json(frame), stop);
            return;
        }

        foreach (var info in SignalInfo.All)
        {
            var payload = FramePayload.Bare(frame, info.Signal);
            ref var latest = ref _latest[(int)info.Signal];
            if (payload is null || (latest is not null && payload.AsSpan().SequenceEqual(latest)))
                continue;
            latest = payload;
            await PublishAsync($"{_options.Topic}/{info.Name}", payload, stop);
        }
    }

    private async Task PublishAsync(string topic, byte[] payload, CancellationToken stop)
    {
        var message = new MqttApplicationMessageBuilder()
            .WithTopic(topic)
            .WithPayload(payload)
            .WithQualityOfServiceLevel(_options.QualityOfService)
            .WithRetainFlag(_options.Retain)
            .Build();
        await _client.PublishAsync(message, stop);
        Interlocked.Increment(ref _published);
    }
}
