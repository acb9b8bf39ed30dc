using System.Globalization;
using SawEdge.Core;

namespace SawEdge.Gateway.Formats.Tables;

/// <summary>Values other than texts as CSV and JSON lines write them.</summary>
internal static class CellText
{
    /// <summary>Bytes that a value takes at most.</summary>
    public const int Longest = 32;

    /// <summary>Writes a number, a moment or a flag.</summary>
    /// <returns>Bytes written.</returns>
    public static int Format(ColumnType type, in Cell cell, Span<byte> destination)
    {
        int length;
        switch (type)
        {
            case ColumnType.Number:
                cell.Number.TryFormat(destination, out length, default, CultureInfo.InvariantCulture);
                return length;
            case ColumnType.Integer:
                cell.Integer.TryFormat(destination, out length, default, CultureInfo.InvariantCulture);
                return length;
            case ColumnType.Time:
                return Rfc3339.Format(DateTimeOffset.FromUnixTimeMilliseconds(cell.Milliseconds), destination);
            default:
                var flag = cell.Flag ? "true"u8 : "false"u8;
                flag.CopyTo(destination);
                return flag.Length;
        }
    }
}
