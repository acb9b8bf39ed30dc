namespace SawEdge.Modbus;

/// <summary>A timeout joined with a caller's cancellation, used again and again without an allocation. Not for use by two at once.</summary>
internal sealed class ReusableTimeout(TimeProvider time) : IDisposable
{
    private CancellationTokenSource _source = new(Timeout.InfiniteTimeSpan, time);
    private CancellationTokenRegistration _caller;

    /// <summary>Starts the time.</summary>
    /// <returns>The token that is cancelled when the time is over or the caller gives up.</returns>
    public CancellationToken Start(TimeSpan length, CancellationToken caller)
    {
        _source.CancelAfter(length);
        _caller = caller.UnsafeRegister(static source => ((CancellationTokenSource)source!).Cancel(), _source);
        return _source.Token;
    }

    /// <summary>Stops the time; the next start begins afresh.</summary>
    public void Stop()
    {
        _caller.Dispose();
        if (_source.TryReset())
            return;

        // A source that fired, or whose timer cannot be rewound, is spent.
        _source.Dispose();
        _source = new CancellationTokenSource(Timeout.InfiniteTimeSpan, time);
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        _caller.Dispose();
        _source.Dispose();
    }
}
