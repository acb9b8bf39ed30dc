using System.Buffers;
using System.Text;

namespace SawEdge.Gateway.Formats;

/// <summary>Fields of RFC 4180 as they are written.</summary>
public static class CsvText
{
    private static readonly SearchValues<char> NeedsQuotes = SearchValues.Create(",\"\r\n");

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
}
