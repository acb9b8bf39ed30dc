using System.Buffers.Binary;
using System.Text;
using Microsoft.Data.Sqlite;
using SawEdge.Core;
using SawEdge.Gateway.Formats.Tables;
using SQLitePCL;

namespace SawEdge.Gateway.History;

/// <summary>
/// Reads columns of rows straight from SQLite into cells. A text that comes again and again, as a saw's name does, is the same instance
/// again as long as it is remembered. Not for two threads at once.
/// </summary>
/// <param name="types">Types of the columns, in order.</param>
internal sealed class CellReader(IReadOnlyList<ColumnType> types)
{
    private const int Remembered = 64;
    private const int LongestRemembered = 400;

    private readonly ColumnType[] _types = [.. types];
    private readonly string?[] _texts = new string?[types.Count * Remembered];

    /// <summary>Reads all columns of the row.</summary>
    /// <param name="row">The row.</param>
    /// <param name="first">Ordinal of the first column.</param>
    /// <param name="cells">Where they go; NULL leaves a cell as it is.</param>
    public void Read(SqliteDataReader row, int first, Span<Cell> cells)
    {
        // The reader's own methods ask for the state of everything at each value, which takes longer than to read it. NULL reads as zero or as
        // an empty text: only then its type is looked at.
        var statement = row.Handle!;
        for (var i = 0; i < _types.Length; i++)
        {
            var ordinal = first + i;
            switch (_types[i])
            {
                case ColumnType.Text:
                    var utf8 = raw.sqlite3_column_blob(statement, ordinal);
                    if (utf8.Length > 0)
                        cells[i] = Cell.Of(Text(utf8, i * Remembered));
                    break;
                case ColumnType.Number:
                    var number = raw.sqlite3_column_double(statement, ordinal);
                    if (number != 0 || IsKnown(statement, ordinal))
                        cells[i] = Cell.Of(number);
                    break;
                default:
                    var integer = raw.sqlite3_column_int64(statement, ordinal);
                    if (integer != 0 || IsKnown(statement, ordinal))
                        cells[i] = _types[i] == ColumnType.Flag ? Cell.Of(integer != 0) : Cell.Of(integer);
                    break;
            }
        }
    }

    private static bool IsKnown(sqlite3_stmt statement, int ordinal) => raw.sqlite3_column_type(statement, ordinal) != raw.SQLITE_NULL;

    private string Text(ReadOnlySpan<byte> utf8, int slots)
    {
        if (utf8.Length > LongestRemembered)
            return Encoding.UTF8.GetString(utf8);
        ref var slot = ref _texts[slots + (int)(Hash(utf8) % Remembered)];
        if (slot is not null && Ascii.Equals(utf8, slot))
            return slot;
        return slot = Encoding.UTF8.GetString(utf8);
    }

    private static uint Hash(ReadOnlySpan<byte> utf8)
    {
        var hash = (ulong)utf8.Length * 0x9E3779B97F4A7C15;
        for (; utf8.Length >= 8; utf8 = utf8[8..])
            hash = (hash ^ BinaryPrimitives.ReadUInt64LittleEndian(utf8)) * 0x9E3779B97F4A7C15;
        foreach (var b in utf8)
            hash = (hash ^ b) * 0x100000001B3;
        return (uint)(hash >> 32);
    }
}
