namespace SawEdge.Gateway.Api;

/// <summary>One reader of the event stream: which saws have news for it, and a bounded queue of what must not be left out.</summary>
internal sealed class LiveReader
{
    /// <summary>Events that wait for a reader at most; who takes none of them for so long is ended.</summary>
    public const int MostWaiting = 1000;

    private readonly LiveHub.Told[] _saws;
    private readonly bool[] _hasNews;
    private readonly int[] _versions;
    private readonly Queue<byte[]> _events = new();
    private readonly Lock _gate = new();
    private TaskCompletionSource _news = New();
    private int _next;
    private bool _isOver;

    /// <summary>A reader that knows nothing yet.</summary>
    public LiveReader(LiveHub.Told[] saws)
    {
        _saws = saws;
        _hasNews = new bool[saws.Length];
        _versions = new int[saws.Length];
        Array.Fill(_hasNews, true);
        _news.SetResult();
    }

    /// <summary>Whether the reader was ended.</summary>
    public bool IsOver
    {
        get
        {
            lock (_gate)
                return _isOver;
        }
    }

    /// <summary>Tells what happened.</summary>
    /// <param name="saws">The saws that have news.</param>
    /// <param name="events">What must not be left out.</param>
    public void Tell(List<int> saws, List<byte[]> events)
    {
        lock (_gate)
        {
            foreach (var saw in saws)
                _hasNews[saw] = true;
            foreach (var told in events)
                _events.Enqueue(told);
            if (_events.Count > MostWaiting)
            {
                _isOver = true;
                _events.Clear();
            }

            _news.TrySetResult();
        }
    }

    /// <summary>Ends the reader.</summary>
    public void End()
    {
        lock (_gate)
        {
            _isOver = true;
            _news.TrySetResult();
        }
    }

    /// <summary>Waits until there is something to take.</summary>
    public Task WaitAsync()
    {
        lock (_gate)
            return _news.Task;
    }

    /// <summary>The next event to be sent; null where there is none now. What must not be left out comes first.</summary>
    public byte[]? Take()
    {
        lock (_gate)
        {
            if (_events.TryDequeue(out var told))
                return told;

            // One after the other, so that no saw waits for ever behind those before it.
            for (var i = 0; i < _saws.Length; i++)
            {
                var saw = (_next + i) % _saws.Length;
                if (!_hasNews[saw])
                    continue;
                _hasNews[saw] = false;
                _next = saw + 1;
                var version = _saws[saw].Version;
                var bytes = _versions[saw] != version ? _saws[saw].Whole : _saws[saw].Tick;
                _versions[saw] = version;
                if (bytes is not null)
                    return bytes;
            }

            if (_news.Task.IsCompleted && !_isOver)
                _news = New();
            return null;
        }
    }

    private static TaskCompletionSource New() => new(TaskCreationOptions.RunContinuationsAsynchronously);
}
