namespace SawEdge.Gateway.Acquisition.Modbus;

/// <summary>What is to be done between two polls, and the way to wake a loop that waits for the next one. For several threads; one loop takes.</summary>
internal sealed class PollOrders
{
    private readonly Lock _gate = new();
    private readonly Queue<(Action<TimeSpan> Do, TaskCompletionSource Done)> _waiting = new();
    private CancellationTokenSource? _wake;

    /// <summary>Has something done.</summary>
    /// <param name="order">What is done in the loop; told the time since its start.</param>
    /// <param name="cancellation">Ends the wait.</param>
    /// <returns>Ends when it is done.</returns>
    public async Task AddAsync(Action<TimeSpan> order, CancellationToken cancellation)
    {
        var done = new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously);
        CancellationTokenSource? wake;
        lock (_gate)
        {
            _waiting.Enqueue((order, done));
            (wake, _wake) = (_wake, null);
        }

        if (wake is not null)
        {
            await wake.CancelAsync();
            wake.Dispose();
        }

        await done.Task.WaitAsync(cancellation);
    }

    /// <summary>Does what waits.</summary>
    /// <param name="now">The time since the loop's start.</param>
    /// <param name="stop">Stops the loop.</param>
    /// <returns>Is cancelled when something waits again, or with the loop.</returns>
    public CancellationToken Take(TimeSpan now, CancellationToken stop)
    {
        while (true)
        {
            (Action<TimeSpan> Do, TaskCompletionSource Done) order;
            lock (_gate)
            {
                if (!_waiting.TryDequeue(out order))
                {
                    _wake ??= CancellationTokenSource.CreateLinkedTokenSource(stop);
                    return _wake.Token;
                }
            }

            order.Do(now);
            order.Done.SetResult();
        }
    }

    /// <summary>Nothing more is taken.</summary>
    public void End()
    {
        lock (_gate)
        {
            _wake?.Dispose();
            _wake = null;
            while (_waiting.TryDequeue(out var order))
                order.Done.SetCanceled();
        }
    }
}
