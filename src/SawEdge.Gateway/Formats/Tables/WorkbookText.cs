using System.Buffers;
using System.Globalization;
using System.Text;

namespace SawEdge.Gateway.Formats.Tables;

/// <summary>Texts as they stand in the cells of a workbook.</summary>
/// <remarks>
/// <list type="bullet">
/// <item>A text that a spreadsheet may take for a formula (OWASP, CSV Injection) gets a single quote before it, unless that is switched off:
/// cells are typed as texts and nothing is run, but a workbook may be saved as CSV later.</item>
/// <item>A text of more than 32,767 characters (the most that a cell holds; UTF-16 units) is cut, and its last character is <c>…</c>.</item>
/// <item>Characters that XML 1.0 cannot hold, and CR, which XML turns into LF, are written as <c>_xHHHH_</c>, and an underscore that
/// begins what looks like that as <c>_x005F_</c> (ISO/IEC 29500-1, 22.9.2.19, ST_Xstring): spreadsheets show the character.</item>
/// <item>What is no Unicode (half of a surrogate pair) becomes U+FFFD.</item>
/// </list>
/// </remarks>
internal static class WorkbookText
{
    /// <summary>Characters that a cell holds at most.</summary>
    public const int Longest = 32_767;

    // Tab and LF are all that XML 1.0 has of them; CR it has too, and gives back as LF.
    private static readonly SearchValues<char> Forbidden = SearchValues.Create(
        [.. Enumerable.Range(0, 0x20).Select(code => (char)code).Where(code => code is not ('\t' or '\n')), '\uFFFE', '\uFFFF']);

    /// <summary>A text as the XML of a cell holds it, before the five characters that XML itself uses are escaped.</summary>
    /// <param name="text">The text.</param>
    /// <param name="isSafe">Whether it is made harmless.</param>
    public static string Of(string text, bool isSafe)
    {
        if (isSafe && CsvText.BeginsLikeFormula(text))
            text = "'" + text;
        if (text.Length > Longest)
            text = Cut(text);
        return text.AsSpan().ContainsAny(Forbidden) || text.AsSpan().ContainsAnyInRange('\uD800', '\uDFFF') || text.Contains("_x", StringComparison.Ordinal) ? Escaped(text) : text;
    }

    private static string Cut(string text)
    {
        var end = Longest - 1;
        if (char.IsHighSurrogate(text[end - 1]))
            end--;
        return text[..end] + "…";
    }

    private static string Escaped(string text)
    {
        var escaped = new StringBuilder(text.Length + 16);
        for (var i = 0; i < text.Length; i++)
        {
            var character = text[i];
            if (char.IsSurrogate(character))
            {
                if (i + 1 < text.Length && char.IsSurrogatePair(character, text[i + 1]))
                    escaped.Append(character).Append(text[++i]);
                else
                    escaped.Append('\uFFFD');
            }
            else if (Forbidden.Contains(character) || IsEscape(text.AsSpan(i)))
            {
                escaped.Append(CultureInfo.InvariantCulture, $"_x{(int)character:X4}_");
            }
            else
            {
                escaped.Append(character);
            }
        }

        return escaped.ToString();
    }

    // _xHHHH_
    private static bool IsEscape(ReadOnlySpan<char> text) =>
        text.Length >= 7 && text[0] == '_' && text[1] == 'x' && text[6] == '_' && !text[2..6].ContainsAnyExcept(SearchHex);

    private static readonly SearchValues<char> SearchHex = SearchValues.Create("0123456789ABCDEFabcdef");
}
