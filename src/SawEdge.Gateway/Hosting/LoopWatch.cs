namespace SawEdge.Gateway.Hosting;

/// <summary>How far a loop is.</summary>
/// <param name="Turns">Rises with everything that it gets done.</param>
/// <param name="HasWork">Whether something waits for it that it could do now.</param>
internal readonly record struct LoopState(long Turns, bool HasWork);

/// <summary>
/// Tells whether the loops that frames go through still turn. A loop hangs where something waits for it and nothing gets done for a while; one
/// that has nothing to do, or waits for a disk that refuses, does not: starting again would mend nothing there.
/// </summary>
/// <param name="time">The clock of the patience.</param>
internal sealed class LoopWatch(TimeProvider time)
{
    /// <summary>How long a loop may get nothing done although something waits: far longer than a slow flash disk takes to write.</summary>
    public static readonly TimeSpan Patience = TimeSpan.FromSeconds(60);

    private readonly Lock _gate = new();
    private readonly List<Watched> _loops = [];
    private string? _hanging;

    /// <summary>Name of the loop that hangs, as last looked at, or null. Safe for any thread.</summary>
    public string? Hanging => Volatile.Read(ref _hanging);

    /// <summary>Watches a loop.</summary>
    /// <param name="name">Its name, in words.</param>
    /// <param name="state">Tells how far it is; quick, and never fails.</param>
    public void Add(string name, Func<LoopState> state)
    {
        lock (_gate)
            _loops.Add(new Watched(name, state) { Turns = state().Turns, Since = time.GetTimestamp() });
    }

    /// <summary>Watches a loop no more.</summary>
    /// <param name="name">Its name.</param>
    public void Remove(string name)
    {
        lock (_gate)
            _loops.RemoveAll(loop => loop.Name == name);
    }

    /// <summary>Looks at every loop. For one thread.</summary>
    /// <returns><see cref="Hanging"/>.</returns>
    public string? Look()
    {
        string? hanging = null;
        lock (_gate)
        {
            foreach (var loop in _loops)
            {
                var state = loop.State();
                if (!state.HasWork || state.Turns != loop.Turns)
                    (loop.Turns, loop.Since) = (state.Turns, time.GetTimestamp());
                else if (time.GetElapsedTime(loop.Since) > Patience)
                    hanging ??= loop.Name;
            }
        }

        Volatile.Write(ref _hanging, hanging);
        return hanging;
    }

    private sealed record Watched(string Name, Func<LoopState> State)
    {
        public long Turns { get; set; }

        public long Since { get; set; }
    }
}
