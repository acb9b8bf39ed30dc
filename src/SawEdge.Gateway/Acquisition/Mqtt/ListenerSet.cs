namespace SawEdge.Gateway.Acquisition.Mqtt;

/// <summary>
/// The listeners of one broker. They can be exchanged while messages come: each message goes to those of before or to those of after, and none
/// is in the middle of one when the exchange is done. For several threads.
/// </summary>
/// <param name="listeners">Those of the start.</param>
internal sealed class ListenerSet(IReadOnlyList<ITopicListener> listeners)
{
    private readonly Lock _gate = new();
    private IReadOnlyList<ITopicListener> _now = listeners;
    private TaskCompletionSource _changed = New();

    /// <summary>The listeners.</summary>
    public IReadOnlyList<ITopicListener> Now => Volatile.Read(ref _now);

    /// <summary>Ends when what is to be subscribed to may be something else than when it was asked for.</summary>
    public Task Changed
    {
        get
        {
            lock (_gate)
                return _changed.Task;
        }
    }

    /// <summary>All that is to be subscribed to.</summary>
    public IReadOnlyCollection<string> Filters
    {
        get
        {
            lock (_gate)
                return [.. _now.SelectMany(listener => listener.Filters).Distinct(StringComparer.Ordinal)];
        }
    }

    /// <summary>Hands a message to each.</summary>
    public void Deliver(string topic, ReadOnlySpan<byte> payload, MessageMarks marks)
    {
        lock (_gate)
        {
            foreach (var listener in _now)
                listener.Receive(topic, payload, marks);
        }
    }

    /// <summary>Exchanges them.</summary>
    /// <param name="exchange">Given those of before, says which there are; what it does to them comes between two messages.</param>
    public void Exchange(Func<IReadOnlyList<ITopicListener>, IReadOnlyList<ITopicListener>> exchange)
    {
        TaskCompletionSource changed;
        lock (_gate)
        {
            Volatile.Write(ref _now, exchange(_now));
            (changed, _changed) = (_changed, New());
        }

        changed.SetResult();
    }

    private static TaskCompletionSource New() => new(TaskCreationOptions.RunContinuationsAsynchronously);
}
