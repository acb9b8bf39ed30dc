using System.Buffers.Binary;
using System.Runtime.InteropServices;
using System.Security.Cryptography;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding.DailyFiles;

/// <summary>Rows of cycles, each told with its identity and a number that another content would not have.</summary>
internal sealed class KeyedRows : IRowSource, IDisposable
{
    private const string Key = "cycle_id";

    private readonly IRowSource _inner;
    private readonly Action<string, UInt128> _told;
    private readonly IncrementalHash _hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
    private readonly RowBatch _whole;
    private readonly int _key;
    private readonly int _begin;

    /// <summary>Opens the rows of a question.</summary>
    /// <param name="reader">The history.</param>
    /// <param name="question">The question, about cycles.</param>
    /// <param name="told">Told of each row.</param>
    public KeyedRows(HistoryReader reader, ExportQuestion question, Action<string, UInt128> told)
    {
        string[] columns = [.. question.Columns ?? question.Table.Columns.Select(column => column.Name)];

        // The identity is read in any case, and left out again where nobody asked for it.
        var isAsked = columns.Contains(Key);
        _inner = ExportSources.Open(reader, question with { Columns = isAsked ? columns : [Key, .. columns] });
        (_key, _begin) = isAsked ? (Array.IndexOf(columns, Key), 0) : (0, 1);
        _told = told;
        _whole = new RowBatch(_inner.Head.Columns.Count);
        Head = _inner.Head with { Columns = [.. _inner.Head.Columns.Skip(_begin)] };
    }

    /// <inheritdoc/>
    public TableHead Head { get; }

    /// <inheritdoc/>
    public Task<long?> CountAsync(CancellationToken cancellation) => _inner.CountAsync(cancellation);

    /// <inheritdoc/>
    public async Task FillAsync(RowBatch batch, CancellationToken cancellation)
    {
        _whole.Clear();
        await _inner.FillAsync(_whole, cancellation);
        for (var i = 0; i < _whole.Count; i++)
        {
            var row = _whole.Row(i);
            _told(row[_key].Text, NumberOf(row[_begin..]));
            row[_begin..].CopyTo(batch.Add());
        }
    }

    /// <inheritdoc/>
    public void Dispose() => _hash.Dispose();

    private UInt128 NumberOf(ReadOnlySpan<Cell> row)
    {
        Span<long> numbers = stackalloc long[2];
        foreach (ref readonly var cell in row)
        {
            (numbers[0], numbers[1]) = (cell.IsKnown ? cell.Text.Length : -1, cell.Integer);
            _hash.AppendData(MemoryMarshal.AsBytes(numbers));
            _hash.AppendData(MemoryMarshal.AsBytes(cell.Text.AsSpan()));
        }

        Span<byte> sum = stackalloc byte[32];
        _hash.GetHashAndReset(sum);
        return BinaryPrimitives.ReadUInt128LittleEndian(sum);
    }
}
