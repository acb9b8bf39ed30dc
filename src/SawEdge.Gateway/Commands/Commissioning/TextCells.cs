using System.Globalization;
using Spectre.Console;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>Text in cells of a terminal, of which some characters take two and some none. Pure functions.</summary>
internal static class TextCells
{
    /// <summary>Cells that a text takes.</summary>
    public static int Width(string text)
    {
        // Nearly all of it is plain.
        foreach (var c in text)
        {
            if (c is < ' ' or > '~')
                return Math.Max(0, text.GetCellWidth());
        }

        return text.Length;
    }

    /// <summary>A text in exactly so many cells: filled up on the right, or cut with a mark where it is longer.</summary>
    public static string Left(string text, int cells) => Cut(text, cells) is var cut ? cut + Blanks(cells - Width(cut)) : cut;

    /// <summary>A text in exactly so many cells, its end at the right.</summary>
    public static string Right(string text, int cells) => Cut(text, cells) is var cut ? Blanks(cells - Width(cut)) + cut : cut;

    /// <summary>A text in at most so many cells; where it is longer, it is cut and ends with <c>~</c>.</summary>
    public static string Cut(string text, int cells)
    {
        if (Width(text) <= cells)
            return text;
        var kept = "";
        var elements = StringInfo.GetTextElementEnumerator(text);
        while (elements.MoveNext())
        {
            var longer = kept + elements.GetTextElement();
            if (Width(longer) > cells - 1)
                break;
            kept = longer;
        }

        return cells > 0 ? kept + "~" : "";
    }

    /// <summary>Words in lines of at most so many cells; a word that is longer than a line is broken.</summary>
    /// <param name="first">What the first line begins with.</param>
    /// <param name="words">The words.</param>
    /// <param name="cells">The longest line.</param>
    /// <param name="indent">Blanks before the other lines.</param>
    public static IEnumerable<string> Wrap(string first, string words, int cells, int indent)
    {
        var line = first;
        var isEmpty = true;
        foreach (var word in words.Split(' ', StringSplitOptions.RemoveEmptyEntries))
        {
            var rest = word;
            while (true)
            {
                var longer = isEmpty ? line + rest : $"{line} {rest}";
                if (Width(longer) <= cells)
                {
                    (line, isEmpty) = (longer, false);
                    break;
                }

                if (!isEmpty)
                {
                    yield return line;
                    (line, isEmpty) = (Blanks(indent), true);
                    continue;
                }

                var part = rest[..Math.Min(rest.Length, Math.Max(1, (cells - Width(line)) / 2))];
                yield return line + part;
                (line, rest) = (Blanks(indent), rest[part.Length..]);
            }
        }

        yield return line;
    }

    private static string Blanks(int count) => new(' ', Math.Max(0, count));
}
