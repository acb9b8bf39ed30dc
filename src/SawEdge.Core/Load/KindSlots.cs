namespace SawEdge.Core.Load;

/// <summary>A bounded set of kinds of cut, each with a number of its own; the one that was not met for longest gives way to a new one.</summary>
/// <param name="capacity">Kinds at most.</param>
/// <param name="first">Number of the first.</param>
internal sealed class KindSlots(int capacity, int first)
{
    private readonly List<(string Name, int Number)> _byAge = new(capacity);

    /// <summary>Number of a kind, which now is the latest; null for an empty name or where there is no room at all.</summary>
    /// <param name="name">Name of the kind.</param>
    /// <param name="isNew">Whether it was not known: what its number stood for before is over.</param>
    public int? Find(string name, out bool isNew)
    {
        isNew = false;
        if (name.Length == 0 || capacity == 0)
            return null;
        for (var i = _byAge.Count - 1; i >= 0; i--)
        {
            if (_byAge[i].Name != name)
                continue;
            var found = _byAge[i];
            if (i < _byAge.Count - 1)
            {
                _byAge.RemoveAt(i);
                _byAge.Add(found);
            }

            return found.Number;
        }

        isNew = true;
        var number = first + _byAge.Count;
        if (_byAge.Count == capacity)
        {
            number = _byAge[0].Number;
            _byAge.RemoveAt(0);
        }

        _byAge.Add((name, number));
        return number;
    }

    /// <summary>Number of a kind; null where it is not known. Nothing changes by it.</summary>
    public int? Peek(string name)
    {
        foreach (var known in _byAge)
        {
            if (known.Name == name)
                return known.Number;
        }

        return null;
    }

    /// <summary>Writes the kinds down.</summary>
    public void Save(MemoryWriter to)
    {
        to.Count(_byAge.Count);
        foreach (var (name, number) in _byAge)
        {
            to.Text(name);
            to.Count(number);
        }
    }

    /// <summary>Goes on from what was written down.</summary>
    public void Restore(MemoryReader from)
    {
        _byAge.Clear();
        for (var i = from.Count(capacity); i > 0; i--)
            _byAge.Add((from.Text(), from.Count(first + capacity - 1)));
    }
}
