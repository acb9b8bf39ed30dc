using System.Buffers;
using System.Text;

namespace SawEdge.Gateway.Formats;

/// <summary>Fields of RFC 4180 as they are written.</summary>
public static class CsvText
{
    private static readonly SearchValues<char> NeedsQuotes = SearchValues.Create(",\"\r\n");

    // A spreadsheet begins a new cell at these too, depending on where it is at home.
    private static readonly SearchValues<char> NeedsQuotesInSpreadsheets = SearchValues.Create(",;\t\"\r\n");

    // What a spreadsheet may take for the beginning of a formula (OWASP, CSV Injection).
    private static readonly SearchValues<char> BeginsFormula = SearchValues.Create("=+-@\t\r\n");

    /// <summary>Whether a spreadsheet may take a text for a formula.</summary>
    public static bool BeginsLikeFormula(string text) => text.Length > 0 && BeginsFormula.Contains(text[0]);

    /// <summary>Writes a text, in double quotes where it needs them.</summary>
    /// <param name="destination">Where to write, UTF-8.</param>
    /// <param name="text">The text.</param>
    public static void Write(IBufferWriter<byte> destination, string text)
    {
        if (!text.AsSpan().ContainsAny(NeedsQuotes))
        {
            Encoding.UTF8.GetBytes(text, destination);
            return;
        }

        destination.Write("\""u8);
        Encoding.UTF8.GetBytes(text.Replace("\"", "\"\"", StringComparison.Ordinal), destination);
        destination.Write("\""u8);
    }

    /// <summary>
    /// Writes a text that others than the plant's own people may have chosen, so that no spreadsheet takes it for a formula: where it begins
    /// like one, a single quote goes before it and double quotes around it (OWASP, CSV Injection). Programs that read it back
    /// see that single quote.
    /// </summary>
    /// <inheritdoc cref="Write"/>
    public static void WriteForSpreadsheet(IBufferWriter<byte> destination, string text)
    {
        var isFormula = BeginsLikeFormula(text);
        if (!isFormula && !text.AsSpan().ContainsAny(NeedsQuotesInSpreadsheets))
        {
            Encoding.UTF8.GetBytes(text, destination);
            return;
        }

        destination.Write(isFormula ? "\"'"u8 : "\""u8);
        Encoding.UTF8.GetBytes(text.Replace("\"", "\"\"", StringComparison.Ordinal), destination);
        destination.Write("\""u8);
    }
}
