namespace SawEdge.Gateway.Forwarding;

/// <summary>
/// Which part of a batch goes next. A part that cannot go as a whole is halved, down to the single points that are at
/// fault; parts go in order, so that at any time everything before <see cref="Done"/> is settled. Pure.
/// </summary>
internal sealed class DeliveryPlan
{
    /// <summary>How often in a row a part may time out before it goes in halves.</summary>
    public const int Patience = 3;

    // Where nothing answers at all, no part is too small.
    private const int LeastShare = 64;

    private readonly Stack<(int Start, int Count)> _parts = new();
    private readonly int _least;
    private int _timeOuts;

    /// <summary>Plans a batch.</summary>
    /// <param name="count">Its points.</param>
    /// <param name="most">Points of a part at most.</param>
    public DeliveryPlan(int count, int most = int.MaxValue)
    {
        _least = Math.Max(1, Math.Min(count, most) / LeastShare);
        for (var start = count == 0 ? 0 : (count - 1) / most * most; count > 0; start -= most)
        {
            _parts.Push((start, count - start));
            count = start;
        }
    }

    /// <summary>Points settled, from the first on.</summary>
    public int Done { get; private set; }

    /// <summary>Whether a part went in halves because it timed out.</summary>
    public bool IsTooSlow { get; private set; }

    /// <summary>Takes note of how the part fared: one that times out again and again is too much for the way to the server, and goes in halves.</summary>
    public void Heard(bool timedOut)
    {
        _timeOuts = timedOut ? _timeOuts + 1 : 0;
        if (_timeOuts < Patience || !_parts.TryPeek(out var part) || part.Count / 2 < _least)
            return;
        Split();
        (_timeOuts, IsTooSlow) = (0, true);
    }

    /// <summary>The part to send next.</summary>
    /// <returns>False where all is settled.</returns>
    public bool TryNext(out int start, out int count)
    {
        var found = _parts.TryPeek(out var part);
        (start, count) = part;
        return found;
    }

    /// <summary>The part is settled: stored, or set aside.</summary>
    public void Settle()
    {
        var (start, count) = _parts.Pop();
        Done = start + count;

        // What is larger than what got through at last would time out, too.
        while (IsTooSlow && _parts.TryPeek(out var part) && part.Count > count + 1 && part.Count / 2 >= _least)
            Split();
    }

    /// <summary>The part goes in two halves.</summary>
    /// <exception cref="InvalidOperationException">It is a single point.</exception>
    public void Split()
    {
        var (start, count) = _parts.Pop();
        if (count < 2)
            throw new InvalidOperationException("A single point cannot be halved.");
        _parts.Push((start + (count / 2), count - (count / 2)));
        _parts.Push((start, count / 2));
    }
}
