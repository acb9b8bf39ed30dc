namespace SawEdge.Gateway.Formats.Tables;

/// <summary>Some rows of a table, one after the other in one array that is used again and again.</summary>
/// <param name="columns">Columns of the table.</param>
/// <param name="capacity">Rows at most.</param>
public sealed class RowBatch(int columns, int capacity = RowBatch.UsualCapacity)
{
    /// <summary>Rows that a batch usually holds.</summary>
    public const int UsualCapacity = 2000;

    private readonly Cell[] _cells = new Cell[columns * capacity];

    /// <summary>Rows in it.</summary>
    public int Count { get; private set; }

    /// <summary>Columns of each row.</summary>
    public int Columns { get; } = columns;

    /// <summary>Rows at most.</summary>
    public int Capacity { get; } = capacity;

    /// <summary>Whether no further row has room.</summary>
    public bool IsFull => Count == Capacity;

    /// <summary>Adds a row in which nothing is known yet, and gives it to be filled.</summary>
    /// <exception cref="InvalidOperationException">The batch is full.</exception>
    public Span<Cell> Add()
    {
        if (IsFull)
            throw new InvalidOperationException($"A batch of {Capacity} rows is full.");
        var row = _cells.AsSpan(Count++ * Columns, Columns);
        row.Clear();
        return row;
    }

    /// <summary>A row.</summary>
    public ReadOnlySpan<Cell> Row(int index) => _cells.AsSpan(index * Columns, Columns)[..(index < Count ? Columns : throw new ArgumentOutOfRangeException(nameof(index)))];

    /// <summary>A row that may be changed in place.</summary>
    internal Span<Cell> Change(int index) => index < Count ? _cells.AsSpan(index * Columns, Columns) : throw new ArgumentOutOfRangeException(nameof(index));

    /// <summary>Takes all rows out.</summary>
    public void Clear() => Count = 0;
}
