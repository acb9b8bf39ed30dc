namespace SawEdge.Gateway.Formats.Tables;

/// <summary>Room that the columns use one after the other while a row group is written.</summary>
internal sealed class ParquetScratch
{
    /// <summary>Definition levels: 1 where a row has a value, 0 where not.</summary>
    public int[] Levels = [];

    /// <summary>Texts as they are stored.</summary>
    public ReadOnlyMemory<byte>[] Utf8 = [];

    /// <summary>Texts whose dictionary the library makes.</summary>
    public ReadOnlyMemory<char>[] Texts = [];

    /// <summary>An array with room.</summary>
    public static T[] Room<T>(ref T[] array, int count) => array.Length >= count ? array : array = new T[Math.Max(count, 1024)];
}

/// <summary>A list whose memory can be handed on, and that keeps it.</summary>
internal sealed class ParquetBuffer<T>
{
    private T[] _items = [];

    /// <summary>How many there are.</summary>
    public int Count { get; private set; }

    /// <summary>What there is.</summary>
    public ReadOnlyMemory<T> Memory => _items.AsMemory(0, Count);

    /// <summary>What there is.</summary>
    public ReadOnlySpan<T> Span => _items.AsSpan(0, Count);

    /// <summary>Adds one.</summary>
    public void Add(T item)
    {
        if (Count == _items.Length)
            Array.Resize(ref _items, Math.Max(1024, Count * 2));
        _items[Count++] = item;
    }

    /// <summary>Makes room for some more behind what there is, counts them in, and gives them to be filled.</summary>
    public Span<T> Extend(int count)
    {
        if (Count + count > _items.Length)
            Array.Resize(ref _items, Math.Max(Math.Max(1024, _items.Length * 2), Count + count));
        Count += count;
        return _items.AsSpan(Count - count, count);
    }

    /// <summary>Takes the last ones away.</summary>
    public void Shorten(int count) => Count -= count;

    /// <summary>Takes all out.</summary>
    public void Clear() => Count = 0;
}
