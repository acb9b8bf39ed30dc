using System.Threading.Channels;
using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.Processing.Alarms;

/// <summary>
/// The way of conditions from the saws' loops to the desk. Putting in never waits and never fails. Bounded: while the desk is held up
/// and the queue is full, what comes and goes of one rule and subject is drawn together, so that no alarm is missed and what holds in the
/// end is right; only how often it came and went meanwhile is lost. For several threads; one taker.
/// </summary>
/// <param name="capacity">Changes held one by one.</param>
internal sealed class AlarmQueue(int capacity = 4096)
{
    private readonly Lock _gate = new();
    private readonly Queue<ConditionChange> _waiting = new();
    private readonly Dictionary<(string Rule, AlarmSubject Subject), List<ConditionChange>> _drawnTogether = [];
    private readonly Channel<bool> _news = Channel.CreateBounded<bool>(new BoundedChannelOptions(1) { FullMode = BoundedChannelFullMode.DropWrite, SingleReader = true });

    /// <summary>Changes that wait.</summary>
    public int Waiting
    {
        get
        {
            lock (_gate)
                return _waiting.Count + _drawnTogether.Count;
        }
    }

    /// <summary>Puts a change in.</summary>
    public void Offer(ConditionChange change)
    {
        lock (_gate)
        {
            // Behind what was drawn together nothing may overtake.
            if (_waiting.Count < capacity && _drawnTogether.Count == 0)
                _waiting.Enqueue(change);
            else
                DrawTogether(change);
        }

        _news.Writer.TryWrite(true);
    }

    /// <summary>Takes everything that waits, oldest first.</summary>
    /// <param name="into">Where to add it.</param>
    public void TakeAll(List<ConditionChange> into)
    {
        lock (_gate)
        {
            into.AddRange(_waiting);
            _waiting.Clear();
            into.AddRange(_drawnTogether.Values.SelectMany(changes => changes).OrderBy(change => change.At));
            _drawnTogether.Clear();
        }
    }

    /// <summary>Waits until something is there.</summary>
    /// <returns>False once nothing will follow and everything was taken.</returns>
    public async ValueTask<bool> WaitAsync(CancellationToken cancellation)
    {
        var more = await _news.Reader.WaitToReadAsync(cancellation);
        _news.Reader.TryRead(out _);
        return more;
    }

    /// <summary>Says that nothing will follow.</summary>
    public void Complete() => _news.Writer.TryComplete();

    // Coming and going alternate. A coming that follows a coming and going adds nothing but a count: both are left out, and the first
    // coming, with its own time and value, stays.
    private void DrawTogether(ConditionChange change)
    {
        var key = (change.Rule, change.Subject);
        if (!_drawnTogether.TryGetValue(key, out var changes))
            _drawnTogether[key] = changes = [];
        if (changes.Count == 0 || changes[^1].Holds != change.Holds)
        {
            if (change.Holds && changes.Count >= 2)
                changes.RemoveAt(changes.Count - 1);
            else
                changes.Add(change);
        }
    }
}
