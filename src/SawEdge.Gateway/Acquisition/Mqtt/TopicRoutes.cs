using MQTTnet;
using Microsoft.Extensions.Logging;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Acquisition.Mqtt;

/// <summary>
/// Who wants the messages of a topic. Each message is found by its topic's name. Saws whose topics differ only in their own names
/// share one subscription, with a wildcard in place of the name; what comes under it for nobody is named, once for each of the
/// first few names.
/// </summary>
internal sealed class TopicRoutes : ITopicListener
{
    /// <summary>How many names that are no saw's are told at most.</summary>
    public const int MostUnknown = 20;

    private readonly MqttSaw[] _saws;
    private readonly string _broker;
    private readonly ILogger _logger;
    private readonly Dictionary<string, List<Route>> _byName = new(StringComparer.Ordinal);
    private readonly string[] _shared;
    private readonly HashSet<string> _unknown = new(StringComparer.Ordinal);

    /// <summary>Prepares the routes.</summary>
    /// <param name="saws">The saws.</param>
    /// <param name="broker">Name of the broker, for messages.</param>
    /// <param name="logger">Takes the messages.</param>
    /// <param name="subscribed">What is subscribed to already, or null. Where saws come and go, nothing that stays is asked for in another way: for a moment it would be covered twice, or not at all.</param>
    public TopicRoutes(IEnumerable<MqttSaw> saws, string broker, ILogger logger, IReadOnlyCollection<string>? subscribed = null)
    {
        _saws = [.. saws];
        _broker = broker;
        _logger = logger;
        var topics = _saws.SelectMany(saw => saw.Topics.Select(topic => (topic.Topic, Filter: SawTopic.FilterOf(topic.Template), Route: new Route(saw, topic.Signal)))).ToList();
        foreach (var (topic, _, route) in topics)
        {
            if (!_byName.TryGetValue(topic, out var routes))
                _byName.Add(topic, routes = []);
            routes.Add(route);
        }

        _shared = [.. topics
            .Where(topic => topic.Filter is not null)
            .GroupBy(topic => topic.Filter!, StringComparer.Ordinal)
            .Where(filter => subscribed?.Contains(filter.Key) ?? filter.Select(topic => topic.Topic).Distinct(StringComparer.Ordinal).Skip(1).Any())
            .Select(filter => filter.Key)];

        // A topic that two subscriptions cover may be delivered twice (MQTT 5.0, 3.3.4).
        Filters = [.. _shared, .. _byName.Keys.Where(topic => !IsShared(topic))];
    }

    /// <summary>One wish: a saw, and the signal whose own topic it is, or null.</summary>
    public sealed record Route(MqttSaw Saw, PublishedSignal? Signal);

    /// <inheritdoc/>
    public IReadOnlyCollection<string> Filters { get; }

    /// <inheritdoc/>
    public IEnumerable<string> Saws => _saws.Select(saw => saw.Name);

    /// <inheritdoc/>
    public IEnumerable<string> SawsOf(string filter) => _byName
        .Where(entry => entry.Key == filter || Matches(entry.Key, filter))
        .SelectMany(entry => entry.Value)
        .Select(route => route.Saw.Name)
        .Distinct();

    /// <summary>The same with another saw; this one is of no use afterwards.</summary>
    public TopicRoutes With(MqttSaw saw) => Exchanged([.. _saws, saw]);

    /// <summary>The same without a saw, of which nothing follows; this one is of no use afterwards.</summary>
    public TopicRoutes Without(string saw)
    {
        foreach (var gone in _saws.Where(known => known.Name == saw))
            End(gone);
        return Exchanged(_saws.Where(known => known.Name != saw));
    }

    /// <inheritdoc/>
    public void BrokerLost()
    {
        foreach (var saw in _saws)
            saw.MarkOutage();
    }

    /// <inheritdoc/>
    public void Complete()
    {
        foreach (var saw in _saws)
            End(saw);
    }

    /// <inheritdoc/>
    public void Receive(string topic, ReadOnlySpan<byte> payload, MessageMarks marks)
    {
        if (!_byName.TryGetValue(topic, out var routes))
        {
            if (_unknown.Count < MostUnknown && IsShared(topic) && _unknown.Add(topic))
                TellUnknown(topic);
            return;
        }

        foreach (var route in routes)
            route.Saw.Receive(topic, route.Signal, payload, marks);
    }

    private TopicRoutes Exchanged(IEnumerable<MqttSaw> saws)
    {
        var routes = new TopicRoutes(saws, _broker, _logger, Filters);
        routes._unknown.UnionWith(_unknown);
        return routes;
    }

    private static void End(MqttSaw saw)
    {
        saw.Complete();
        saw.Dispose();
    }

    private void TellUnknown(string topic)
    {
        MqttLog.TopicOfNoSaw(_logger, _broker, ControllerText.CleanUpTo(topic, 200), Array.Find(_shared, filter => Matches(topic, filter))!);
        if (_unknown.Count == MostUnknown)
            MqttLog.FurtherTopicsOfNoSaw(_logger, _broker, MostUnknown);
    }

    private bool IsShared(string topic)
    {
        foreach (var filter in _shared)
        {
            if (Matches(topic, filter))
                return true;
        }

        return false;
    }

    private static bool Matches(string topic, string filter) => MqttTopicFilterComparer.Compare(topic, filter) == MqttTopicFilterCompareResult.IsMatch;
}
