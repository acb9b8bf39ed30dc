using System.Buffers;
using System.Text;

namespace SawEdge.Gateway.Forwarding;

/// <summary>
/// Points in line protocol, as the bytes that go to a server, each with the place that it has among what its lane delivers. Several points may
/// have the same place; places never fall.
/// </summary>
internal sealed class LineBatch
{
    // Of a cycle, bytes: only to begin with about the right size.
    private const int UsualLength = 1024;

    private readonly ArrayBufferWriter<byte> _bytes;
    private readonly List<(long Place, int Start, int Length)> _lines;

    /// <summary>An empty batch.</summary>
    /// <param name="points">About so many points will come into it.</param>
    public LineBatch(int points = 0) => (_bytes, _lines) = (new ArrayBufferWriter<byte>(4096 + (points * UsualLength)), new List<(long Place, int Start, int Length)>(points));

    /// <summary>Points in it.</summary>
    public int Count => _lines.Count;

    /// <summary>Adds a point.</summary>
    /// <param name="place">Its place: the number of the row that it was made of, as the lane's cursor counts them.</param>
    /// <param name="line">Its line, without a line end.</param>
    public void Add(long place, string line) => Add(place, line, static (line, bytes) => Encoding.UTF8.GetBytes(line, bytes));

    /// <summary>Adds a point.</summary>
    /// <param name="place">Its place: the number of the row that it was made of, as the lane's cursor counts them.</param>
    /// <param name="row">The row.</param>
    /// <param name="write">Writes its line, without a line end.</param>
    public void Add<TRow>(long place, TRow row, Action<TRow, ArrayBufferWriter<byte>> write)
    {
        if (_lines.Count > 0)
            _bytes.Write("\n"u8);
        var start = _bytes.WrittenCount;
        write(row, _bytes);
        _lines.Add((place, start, _bytes.WrittenCount - start));
    }

    /// <summary>The place of a point.</summary>
    public long PlaceOf(int index) => _lines[index].Place;

    /// <summary>The line of a point.</summary>
    public string LineOf(int index) => Encoding.UTF8.GetString(_bytes.WrittenSpan.Slice(_lines[index].Start, _lines[index].Length));

    /// <summary>The lines of a part, as a server takes them.</summary>
    public ReadOnlyMemory<byte> Part(int start, int count)
    {
        var last = _lines[start + count - 1];
        return _bytes.WrittenMemory[_lines[start].Start..(last.Start + last.Length)];
    }
}
