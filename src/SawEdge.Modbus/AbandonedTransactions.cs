namespace SawEdge.Modbus;

/// <summary>
/// Transactions that were given up on a connection: their answers may still come and must not be taken for another's.
/// Remembers the last few; an answer that comes later than that is treated as one to nothing.
/// </summary>
internal sealed class AbandonedTransactions
{
    /// <summary>How many are remembered.</summary>
    internal const int Capacity = 32;

    private readonly ushort[] _ids = new ushort[Capacity];
    private int _count;

    /// <summary>Remembers one; forgets the oldest where there is no room.</summary>
    public void Add(ushort id)
    {
        Remove(id);
        if (_count == Capacity)
        {
            Array.Copy(_ids, 1, _ids, 0, Capacity - 1);
            _count--;
        }

        _ids[_count++] = id;
    }

    /// <summary>Whether this one was given up and not answered since.</summary>
    public bool Contains(ushort id) => _ids.AsSpan(0, _count).Contains(id);

    /// <summary>Forgets one: it was answered, or its number is in use again.</summary>
    public bool Remove(ushort id)
    {
        var at = _ids.AsSpan(0, _count).IndexOf(id);
        if (at < 0)
            return false;
        Array.Copy(_ids, at + 1, _ids, at, _count - at - 1);
        _count--;
        return true;
    }
}
