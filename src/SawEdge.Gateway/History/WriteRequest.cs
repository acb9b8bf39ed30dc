namespace SawEdge.Gateway.History;

/// <summary>One thing to be written, and the promise to the one who waits for it.</summary>
internal sealed class WriteRequest(Action<WriteSession, long> apply)
{
    // Continuations run elsewhere: the writer's loop must not run its callers' code.
    private readonly TaskCompletionSource _done = new(TaskCreationOptions.RunContinuationsAsynchronously);

    /// <summary>Ends when it is on the disk, or with the reason why it is not.</summary>
    public Task Done => _done.Task;

    /// <summary>Does the writing inside a transaction; the number is the time, ms since 1970.</summary>
    public void Apply(WriteSession session, long now) => apply(session, now);

    /// <summary>It is on the disk.</summary>
    public void Complete() => _done.TrySetResult();

    /// <summary>It is not, and will not be.</summary>
    public void Fail(Exception reason) => _done.TrySetException(reason);
}
