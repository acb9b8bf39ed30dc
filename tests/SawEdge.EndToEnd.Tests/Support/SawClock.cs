namespace SawEdge.EndToEnd.Tests.Support;

/// <summary>
/// The time of one virtual saw: runs with the wall clock, can be held (the head then stands where it is) and can jump ahead
/// (the saw goes on while nobody looks). Remembers which moment of the saw was when on the wall.
/// </summary>
internal sealed class SawClock(bool held = false) : TimeProvider
{
    private readonly Lock _lock = new();
    private readonly List<(DateTimeOffset Wall, DateTimeOffset Saw, bool Runs)> _pieces = [(System.GetUtcNow(), SmallSaw.Start, !held)];

    /// <summary>The moment of the saw beyond which it does not go: the saw then stands there.</summary>
    public DateTimeOffset StopsAt { get; init; } = DateTimeOffset.MaxValue;

    /// <inheritdoc/>
    public override DateTimeOffset GetUtcNow()
    {
        lock (_lock)
            return NowNeedsLock(System.GetUtcNow());
    }

    /// <summary>Stops it.</summary>
    public void Hold() => Change(now => now, runs: false);

    /// <summary>Lets it run.</summary>
    public void Release() => Change(now => now, runs: true);

    /// <summary>Goes on to a moment of the saw that lies ahead, and runs on from there.</summary>
    public void JumpTo(DateTimeOffset moment) => Change(now => moment > now ? moment : throw new InvalidOperationException($"{moment:O} has passed, it is {now:O}"), runs: true);

    /// <summary>When on the wall the saw was at a moment; null where it jumped over it or has not come to it.</summary>
    public DateTimeOffset? WallOf(DateTimeOffset moment)
    {
        lock (_lock)
        {
            for (var i = 0; i < _pieces.Count; i++)
            {
                var (wall, saw, runs) = _pieces[i];
                var until = i + 1 < _pieces.Count ? _pieces[i + 1].Wall : System.GetUtcNow();
                if (runs && moment >= saw && moment < saw + (until - wall))
                    return wall + (moment - saw);
            }

            return null;
        }
    }

    private void Change(Func<DateTimeOffset, DateTimeOffset> to, bool runs)
    {
        lock (_lock)
        {
            var wall = System.GetUtcNow();
            _pieces.Add((wall, to(NowNeedsLock(wall)), runs));
        }
    }

    private DateTimeOffset NowNeedsLock(DateTimeOffset wall)
    {
        var (since, saw, runs) = _pieces[^1];
        var now = runs ? saw + (wall - since) : saw;
        return now < StopsAt ? now : StopsAt;
    }
}
