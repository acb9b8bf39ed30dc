namespace SawEdge.TestSupport;

/// <summary>What work costs the garbage collector.</summary>
public static class Allocations
{
    private const int Rounds = 8;

    /// <summary>
    /// The bytes that a piece of work allocates on this thread: the least of some rounds, after one that is not counted. A collection that another test
    /// sets off counts the rest of this thread's allocation window as used, in one round or another; what the work allocates, it allocates in each.
    /// </summary>
    /// <param name="work">The work.</param>
    /// <param name="between">What is done after each round and not counted; null: nothing.</param>
    public static long Of(Action work, Action? between = null)
    {
        ArgumentNullException.ThrowIfNull(work);
        work();
        between?.Invoke();
        var least = long.MaxValue;
        for (var round = 0; round < Rounds && least > 0; round++)
        {
            var before = GC.GetAllocatedBytesForCurrentThread();
            work();
            least = Math.Min(least, GC.GetAllocatedBytesForCurrentThread() - before);
            between?.Invoke();
        }

        return least;
    }
}
