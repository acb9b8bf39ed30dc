using System.Text;

namespace SawEdge.Core.Notation;

/// <summary>
/// Comma-separated text with a heading (RFC 4180: quoted fields, doubled quotes, line ends inside quotes). The separator may
/// be a comma, a semicolon or a tab, as the heading shows; lines that begin with # are remarks. Pure: text in, rows out.
/// </summary>
public sealed class CsvTable
{
    private CsvTable(IReadOnlyList<string> columns, IReadOnlyList<CsvRow> rows)
    {
        Columns = columns;
        Rows = rows;
    }

    /// <summary>The names of the columns, as written, trimmed.</summary>
    public IReadOnlyList<string> Columns { get; }

    /// <summary>The rows, blank lines left out.</summary>
    public IReadOnlyList<CsvRow> Rows { get; }

    /// <summary>Reads the whole text.</summary>
    public static CsvTable Read(string text)
    {
        var records = new List<(int Line, List<string> Cells)>();
        var separator = ',';
        var at = text.StartsWith('\uFEFF') ? 1 : 0;
        var line = 1;
        while (at < text.Length)
        {
            if (text[at] == '#')
            {
                at = SkipLine(text, at, ref line);
                continue;
            }

            if (records.Count == 0)
                separator = SeparatorOf(text, at);
            var started = line;
            var cells = ReadRecord(text, ref at, ref line, separator);
            if (cells.Any(c => c.Length > 0))
                records.Add((started, cells));
        }

        if (records.Count == 0)
            return new CsvTable([], []);
        var columns = records[0].Cells;
        return new CsvTable(columns, [.. records.Skip(1).Select(r => new CsvRow(r.Line, columns, r.Cells))]);
    }

    private static char SeparatorOf(string text, int at)
    {
        var end = text.IndexOfAny(['\r', '\n'], at);
        var heading = text.AsSpan(at, (end < 0 ? text.Length : end) - at);
        return heading.Contains(';') ? ';' : heading.Contains('\t') ? '\t' : ',';
    }

    private static int SkipLine(string text, int at, ref int line)
    {
        var end = text.IndexOf('\n', at);
        line++;
        return end < 0 ? text.Length : end + 1;
    }

    private static List<string> ReadRecord(string text, ref int at, ref int line, char separator)
    {
        var cells = new List<string>();
        var cell = new StringBuilder();
        var quoted = false;
        for (; at < text.Length; at++)
        {
            var c = text[at];
            if (c == '\n')
                line++;
            if (quoted)
            {
                if (c != '"')
                    cell.Append(c);
                else if (at + 1 < text.Length && text[at + 1] == '"')
                    cell.Append(text[at++]);
                else
                    quoted = false;
            }
            else if (c == '"' && string.IsNullOrWhiteSpace(cell.ToString()))
            {
                cell.Clear();
                quoted = true;
            }
            else if (c == separator)
            {
                cells.Add(cell.ToString().Trim());
                cell.Clear();
            }
            else if (c == '\n')
            {
                at++;
                break;
            }
            else
            {
                cell.Append(c);
            }
        }

        cells.Add(cell.ToString().Trim());
        return cells;
    }
}

/// <summary>One row.</summary>
/// <param name="Line">The line of the text on which it begins, 1-based.</param>
/// <param name="Columns">The names of the columns.</param>
/// <param name="Cells">The cells, trimmed.</param>
public sealed record CsvRow(int Line, IReadOnlyList<string> Columns, IReadOnlyList<string> Cells)
{
    /// <summary>The cell of a column; empty where the row or the table has none.</summary>
    public string this[string column]
    {
        get
        {
            for (var i = 0; i < Columns.Count && i < Cells.Count; i++)
            {
                if (string.Equals(Columns[i], column, StringComparison.OrdinalIgnoreCase))
                    return Cells[i];
            }

            return "";
        }
    }
}
