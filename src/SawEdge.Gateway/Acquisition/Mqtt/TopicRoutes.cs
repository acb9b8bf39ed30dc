using MQTTnet;

namespace SawEdge.Gateway.Acquisition.Mqtt;

/// <summary>Who wants the messages of a topic. A topic without wildcards is found by its name, the others by comparison.</summary>
internal sealed class TopicRoutes : ITopicListener
{
    private readonly MqttSaw[] _saws;
    private readonly Dictionary<string, List<Route>> _byName = new(StringComparer.Ordinal);
    private readonly List<(string Filter, List<Route> Routes)> _byFilter = [];

    public TopicRoutes(IEnumerable<MqttSaw> saws)
    {
        _saws = [.. saws];
        foreach (var (filter, route) in _saws.SelectMany(saw => saw.Topics.Select(topic => (topic.Topic, new Route(saw, topic.Signal)))))
            Add(filter, route);
    }

    /// <summary>One wish: a saw, and the signal whose own topic it is, or null.</summary>
    public sealed record Route(MqttSaw Saw, PublishedSignal? Signal);

    /// <inheritdoc/>
    public IReadOnlyCollection<string> Filters => [.. _byName.Keys.Concat(_byFilter.Select(entry => entry.Filter))];

    /// <inheritdoc/>
    public IEnumerable<string> Saws => _saws.Select(saw => saw.Name);

    /// <inheritdoc/>
    public IEnumerable<string> SawsOf(string filter) =>
        (_byName.GetValueOrDefault(filter) ?? _byFilter.Find(entry => entry.Filter == filter).Routes ?? []).Select(route => route.Saw.Name).Distinct();

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
        {
            saw.Complete();
            saw.Dispose();
        }
    }

    /// <inheritdoc/>
    public void Receive(string topic, ReadOnlySpan<byte> payload, MessageMarks marks)
    {
        var isRetained = (marks & MessageMarks.Retained) != 0;
        if (_byName.TryGetValue(topic, out var routes))
            Deliver(routes, topic, payload, isRetained);
        foreach (var (filter, wildRoutes) in _byFilter)
        {
            if (MqttTopicFilterComparer.Compare(topic, filter) == MqttTopicFilterCompareResult.IsMatch)
                Deliver(wildRoutes, topic, payload, isRetained);
        }
    }

    private static void Deliver(List<Route> routes, string topic, ReadOnlySpan<byte> payload, bool isRetained)
    {
        foreach (var route in routes)
            route.Saw.Receive(topic, route.Signal, payload, isRetained);
    }

    private void Add(string filter, Route route)
    {
        var isWild = filter.AsSpan().ContainsAny('+', '#');
        if (!isWild)
        {
            if (!_byName.TryGetValue(filter, out var routes))
                _byName.Add(filter, routes = []);
            routes.Add(route);
            return;
        }

        var entry = _byFilter.Find(other => other.Filter == filter);
        if (entry.Routes is null)
            _byFilter.Add(entry = (filter, []));
        entry.Routes.Add(route);
    }
}
