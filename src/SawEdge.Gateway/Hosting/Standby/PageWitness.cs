namespace SawEdge.Gateway.Hosting.Standby;

/// <summary>
/// A second witness of the first gateway: whether its page says that it watches the saws, or is about to. It is asked only while its presence is silent, because a
/// first that has lost nothing but the broker goes on, and a second that took over then would make a second record of every cycle.
/// </summary>
internal sealed class PageWitness : IDisposable
{
    // What the page answers at /health/ready where the gateway is the first of two: one that waits is about to watch, with or without the broker.
    private static readonly HashSet<string> Watches = new(StringComparer.Ordinal) { "ready: active", "ready: waiting" };
    private const int LongestAnswer = 1024;
    private const int Unknown = 0;
    private const int Yes = 1;
    private const int No = 2;
    private static readonly TimeSpan AskEvery = TimeSpan.FromSeconds(1);
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(2);

    private readonly HttpClient _http = new(new SocketsHttpHandler { AllowAutoRedirect = false, ConnectTimeout = Patience }) { MaxResponseContentBufferSize = LongestAnswer, Timeout = Timeout.InfiniteTimeSpan };
    private readonly Uri _address;
    private readonly TimeProvider _time;
    private volatile bool _isNeeded;
    private volatile int _answer = Unknown;

    /// <summary>Prepares; <see cref="RunAsync"/> asks.</summary>
    /// <param name="page">Base address of the other gateway's page.</param>
    /// <param name="time">The clock.</param>
    public PageWitness(Uri page, TimeProvider time) => (_address, _time) = (new Uri($"{page.AbsoluteUri.TrimEnd('/')}/health/ready"), time);

    /// <summary>The other's page.</summary>
    public Uri Address => _address;

    /// <summary>Whether the first's page says that it watches; null where it has not been asked since the silence began.</summary>
    /// <param name="isPresenceSilent">Whether the presence is silent at the moment.</param>
    public bool? Ask(bool isPresenceSilent)
    {
        _isNeeded = isPresenceSilent;
        if (!isPresenceSilent)
            _answer = Unknown;
        return _answer == Unknown ? null : _answer == Yes;
    }

    /// <summary>Asks, while that is needed, until cancelled.</summary>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        using var look = new PeriodicTimer(AskEvery, _time);
        while (await look.WaitForNextTickAsync(cancellation))
        {
            if (!_isNeeded)
                continue;
            var watches = await WatchesAsync(cancellation);

            // An answer that was asked for before the presence was there again says nothing of the next silence.
            _answer = !_isNeeded ? Unknown : watches ? Yes : No;
        }
    }

    /// <summary>Closes its connection.</summary>
    public void Dispose() => _http.Dispose();

    private async Task<bool> WatchesAsync(CancellationToken cancellation)
    {
        using var patience = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        patience.CancelAfter(Patience);
        try
        {
            using var answer = await _http.GetAsync(_address, patience.Token);
            var words = await answer.Content.ReadAsStringAsync(patience.Token);
            return answer.IsSuccessStatusCode && Watches.Contains(words.Trim());
        }
        catch (HttpRequestException)
        {
            // That it cannot be reached is the answer, and is said where it has a consequence.
            return false;
        }
        catch (OperationCanceledException) when (!cancellation.IsCancellationRequested)
        {
            return false;
        }
    }
}
