namespace SawEdge.Gateway.Hosting;

/// <summary>A loop in whose place another can be put: the one is ended in order before the other begins.</summary>
/// <param name="first">The first one.</param>
internal sealed class ExchangeableLoop(Func<CancellationToken, Task> first)
{
    private readonly Lock _gate = new();
    private Func<CancellationToken, Task> _run = first;
    private TaskCompletionSource _exchanged = New();

    /// <summary>Puts another in its place. For another thread.</summary>
    public void Exchange(Func<CancellationToken, Task> next)
    {
        TaskCompletionSource exchanged;
        lock (_gate)
        {
            (_run, exchanged, _exchanged) = (next, _exchanged, New());
        }

        exchanged.SetResult();
    }

    /// <summary>Runs whichever is in place until cancelled.</summary>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        while (true)
        {
            cancellation.ThrowIfCancellationRequested();
            var (run, exchanged) = Current();
            using var over = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
            var loop = run(over.Token);
            if (await Task.WhenAny(loop, exchanged) == loop)
            {
                await loop;
                cancellation.ThrowIfCancellationRequested();
                return;
            }

            await over.CancelAsync();
            try
            {
                await loop;
            }
            catch (OperationCanceledException) when (!cancellation.IsCancellationRequested)
            {
                // Another is in its place.
            }
        }
    }

    private (Func<CancellationToken, Task> Run, Task Exchanged) Current()
    {
        lock (_gate)
            return (_run, _exchanged.Task);
    }

    private static TaskCompletionSource New() => new(TaskCreationOptions.RunContinuationsAsynchronously);
}
