using System.Globalization;
using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Acquisition.Sparkplug;

/// <summary>
/// The Sparkplug B 3.0 host application at one broker: follows the nodes of its saws. What it publishes is about itself (its state,
/// where it has an identifier), but for one request to a node, that for its births, and that only where it is allowed.
/// </summary>
internal sealed class SparkplugListener : ITopicListener
{
    private readonly Lock _lock = new();
    private readonly MqttBrokerOptions _broker;
    private readonly SparkplugHostOptions _host;
    private readonly FrameClock _clock;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly Dictionary<string, SparkplugNode> _nodes = new(StringComparer.Ordinal);
    private readonly Dictionary<string, SparkplugNode>.AlternateLookup<ReadOnlySpan<char>> _nodesByName;
    private readonly Dictionary<SparkplugNode, BirthRequests> _requests = [];
    private readonly string? _stateTopic;
    private readonly Trouble _denied;
    private readonly ITimer _timer;
    private DateTimeOffset? _scheduled;
    private IOwnPublisher? _publisher;
    private DateTimeOffset _connected;
    private bool _isComplete;

    /// <summary>Prepares to listen.</summary>
    /// <param name="broker">The broker.</param>
    /// <param name="saws">The saws whose signals come as metrics at this broker, each with the inbox that takes its frames.</param>
    /// <param name="clock">The time of arrival; on the same time provider.</param>
    /// <param name="time">Bursts, waiting, and the state's own time.</param>
    /// <param name="logger">Takes the messages.</param>
    /// <param name="observer">Sees the values as they come, or null.</param>
    /// <exception cref="ArgumentException">A saw's signals do not come as metrics at this broker.</exception>
    public SparkplugListener(MqttBrokerOptions broker, IReadOnlyList<(SawOptions Saw, SawInbox Inbox)> saws, FrameClock clock, TimeProvider time, ILogger logger, IRawValueObserver? observer = null)
    {
        _broker = broker;
        _host = broker.Sparkplug ?? new SparkplugHostOptions();
        _clock = clock;
        _time = time;
        _logger = logger;
        _denied = new Trouble(time);
        _stateTopic = _host.HostId is { } hostId ? SparkplugTopic.StateOf(hostId) : null;
        _nodesByName = _nodes.GetAlternateLookup<ReadOnlySpan<char>>();
        _timer = time.CreateTimer(_ => Advance(), null, Timeout.InfiniteTimeSpan, Timeout.InfiniteTimeSpan);
        foreach (var node in saws.GroupBy(saw => SourceOf(saw.Saw) is { } source ? (source.Group, source.Node) : default))
            Follow(node.Key.Group, node.Key.Node, node.Select(saw => Made(saw.Saw, saw.Inbox, observer)));
    }

    /// <summary>Follows another saw, of which nothing is known until it is born; where that is allowed, its first data have the node asked for that.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="inbox">Takes its frames.</param>
    public void Add(SawOptions saw, SawInbox inbox)
    {
        var made = Made(saw, inbox, observer: null);
        var source = SourceOf(saw);
        lock (_lock)
        {
            if (_nodes.TryGetValue($"{source.Group}/{source.Node}", out var node))
                node.Add(made);
            else
                Follow(source.Group, source.Node, [made]);
        }
    }

    /// <summary>Follows a saw no more, of which no frame follows.</summary>
    /// <param name="saw">Its name.</param>
    public void Remove(string saw)
    {
        lock (_lock)
        {
            foreach (var node in _nodes.Values.Where(node => node.Saws.Any(known => known.Name == saw)).ToList())
            {
                foreach (var gone in node.Saws.Where(known => known.Name == saw))
                    gone.Complete();
                node.Remove(saw);
                if (node.Saws.Count > 0)
                    continue;
                _nodes.Remove(node.Name);
                _requests.Remove(node);
            }
        }
    }

    /// <inheritdoc/>
    public IReadOnlyCollection<string> Filters => [.. _nodes.Values.SelectMany(node => SparkplugTopic.FiltersOf(node.Group, node.Node)), .. _stateTopic is null ? [] : new[] { _stateTopic }];

    /// <inheritdoc/>
    public IEnumerable<string> Saws => _nodes.Values.SelectMany(node => node.Saws).Select(saw => saw.Name);

    /// <inheritdoc/>
    public IEnumerable<string> SawsOf(string filter) =>
        _nodes.Values.Where(node => SparkplugTopic.FiltersOf(node.Group, node.Node).Contains(filter)).SelectMany(node => node.Saws).Select(saw => saw.Name);

    /// <inheritdoc/>
    public void Receive(string topic, ReadOnlySpan<byte> payload, MessageMarks marks)
    {
        lock (_lock)
        {
            if (_isComplete)
                return;
            if (topic == _stateTopic)
                ReceiveState(payload, marks);
            else if (SparkplugTopic.TryParse(topic, out var message, out var group, out var node, out var device) && TryFind(group, node, out var sender))
                Receive(sender, topic, message, device, payload, marks);
        }
    }

    /// <inheritdoc/>
    public void BrokerLost()
    {
        lock (_lock)
        {
            _publisher = null;
            var now = _clock.Now;
            foreach (var node in _nodes.Values)
                node.Lost(now);
        }
    }

    /// <inheritdoc/>
    public void Complete()
    {
        lock (_lock)
        {
            _isComplete = true;
            foreach (var saw in _nodes.Values.SelectMany(node => node.Saws))
                saw.Complete();
        }

        _timer.Dispose();
    }

    /// <inheritdoc/>
    public OwnMessage? LastWill()
    {
        var now = _time.GetUtcNow();
        lock (_lock)
        {
            if (_host.HostId is null)
                return null;
            if (_publisher is null)
                _connected = now;
            return HostState.Of(_host.HostId, isOnline: false, _connected);
        }
    }

    /// <inheritdoc/>
    public void Listening(IOwnPublisher publisher)
    {
        lock (_lock)
        {
            _publisher = publisher;
            if (_host.HostId is { } hostId)
                publisher.TryPublish(HostState.Of(hostId, isOnline: true, _connected));
        }
    }

    private string Advice => _host.Rebirth
        ? "The node is asked for it."
        : "The gateway does not ask for births: write \"rebirth\": true under \"sparkplug\" of the broker, or start the node again.";

    private SparkplugNode Follow(string group, string node, IEnumerable<SparkplugSaw> saws)
    {
        var followed = new SparkplugNode(group, node, saws, _host.ReorderTimeout, Advice, _host.Rebirth ? AskForBirth : null, _time, _logger);
        _nodes.Add(followed.Name, followed);
        _requests.Add(followed, new BirthRequests());
        return followed;
    }

    private SparkplugSaw Made(SawOptions saw, SawInbox inbox, IRawValueObserver? observer)
    {
        var source = SourceOf(saw);
        var troubles = new SparkplugSawTroubles(saw.Name, $"{source.Group}/{source.Node}{(source.Device is null ? "" : $"/{source.Device}")}", Advice, _time, _logger, inbox.Errors);
        return new SparkplugSaw(saw, source, inbox, troubles, observer);
    }

    private static SparkplugSourceOptions SourceOf(SawOptions saw) =>
        saw.Source as SparkplugSourceOptions ?? throw new ArgumentException($"Saw {saw.Name} has no Sparkplug metrics.", nameof(saw));

    private void Receive(SparkplugNode node, string topic, SparkplugMessage message, ReadOnlySpan<char> device, ReadOnlySpan<byte> payload, MessageMarks marks)
    {
        // Messages bring their own time; this clock tells whether that is likely.
        _clock.Follow();
        // Nodes never have their messages kept (tck-id-topics-*-mqtt); one that was is of whenever.
        if ((marks & MessageMarks.Retained) != 0)
            node.Refuse(topic, "the broker had kept it, so nobody knows from when it is; the node must not publish with \"retain\"");
        else if (payload.Length > _broker.MaximumPayloadBytes)
            node.Refuse(topic, string.Create(CultureInfo.InvariantCulture, $"it is longer than the {_broker.MaximumPayloadBytes} bytes that are looked at; births are long, so raise maximumPayload of the broker"));
        else
            node.Receive(topic, message, device, payload, _clock.Now);
        Schedule(node.Due);
    }

    private bool TryFind(ReadOnlySpan<char> group, ReadOnlySpan<char> node, [System.Diagnostics.CodeAnalysis.NotNullWhen(true)] out SparkplugNode? found)
    {
        var length = group.Length + 1 + node.Length;
        var name = length <= 256 ? stackalloc char[length] : new char[length];
        group.CopyTo(name);
        name[group.Length] = '/';
        node.CopyTo(name[(group.Length + 1)..]);
        return _nodesByName.TryGetValue(name, out found);
    }

    // Somebody else with our identifier must not make nodes leave us (chapter 5, Host Application STATE).
    private void ReceiveState(ReadOnlySpan<byte> payload, MessageMarks marks)
    {
        if ((marks & MessageMarks.Retained) != 0 || _publisher is null)
            return;
        if (!HostState.SaysOffline(payload))
        {
            if (_denied.StaysAway())
                SparkplugLog.HostIsAccepted(_logger, _broker.Name, _host.HostId!, _denied.Count);
            return;
        }

        if (_publisher.TryPublish(HostState.Of(_host.HostId!, isOnline: true, _connected)) && _denied.Comes())
            SparkplugLog.HostIsDenied(_logger, _broker.Name, _host.HostId!);
    }

    private void AskForBirth(SparkplugNode node, DateTimeOffset now)
    {
        if (_publisher is null || !_requests[node].MayAsk(now, out var isFirst))
            return;
        if (_publisher.TryPublish(BirthRequests.Of(node.Group, node.Node, _time.GetUtcNow())) && isFirst)
            SparkplugLog.BirthIsAskedFor(_logger, node.Name);
    }

    private void Advance()
    {
        lock (_lock)
        {
            if (_isComplete)
                return;
            _scheduled = null;
            var now = _clock.Now;
            foreach (var node in _nodes.Values)
            {
                node.Advance(now);
                Schedule(node.Due);
            }
        }
    }

    private void Schedule(DateTimeOffset? due)
    {
        if (due is null || _scheduled <= due)
            return;
        _scheduled = due;
        var wait = due.Value - _clock.Now;

        // Whole milliseconds, upwards: a timer that fires before its time would only be set again.
        _timer.Change(TimeSpan.FromMilliseconds(Math.Ceiling(Math.Max(0, wait.TotalMilliseconds))), Timeout.InfiniteTimeSpan);
    }
}
