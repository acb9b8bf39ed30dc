namespace SawEdge.Gateway.History;

/// <summary>Wakes the journal's consumers after a commit that added to it.</summary>
public sealed class JournalSignal
{
    private readonly Lock _gate = new();
    private TaskCompletionSource _next = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private long _last;

    /// <summary>The last sequence number heard of; 0 before the first.</summary>
    public long Last => Interlocked.Read(ref _last);

    /// <summary>Says that the journal reaches up to a sequence number.</summary>
    public void Publish(long sequence)
    {
        TaskCompletionSource waiting;
        lock (_gate)
        {
            if (sequence <= _last)
                return;
            Interlocked.Exchange(ref _last, sequence);
            waiting = _next;
            _next = new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously);
        }

        waiting.SetResult();
    }

    /// <summary>Waits until the journal reaches beyond a sequence number, or a time has passed: the signal is a hint, the journal the truth.</summary>
    /// <param name="sequence">The last sequence number that the caller has seen.</param>
    /// <param name="longest">How long to wait at most.</param>
    /// <param name="time">The clock for that.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    public async Task WaitBeyondAsync(long sequence, TimeSpan longest, TimeProvider time, CancellationToken cancellation)
    {
        Task next;
        lock (_gate)
        {
            if (_last > sequence)
                return;
            next = _next.Task;
        }

        try
        {
            await next.WaitAsync(longest, time, cancellation);
        }
        catch (TimeoutException)
        {
            // The slow look is due.
        }
    }
}
