using System.Text;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Formats;

/// <summary>What stands in a file or payload, fit for a message: cleaned, short, in quotes.</summary>
public static class Excerpt
{
    private const int Longest = 40;

    /// <summary>Quotes the beginning of some text.</summary>
    /// <param name="raw">The text, UTF-8 as far as it is text.</param>
    public static string Quote(ReadOnlySpan<byte> raw)
    {
        var text = ControllerText.Clean(Encoding.UTF8.GetString(raw[..Math.Min(raw.Length, 4 * Longest)]));
        return text.Length <= Longest ? $"'{text}'" : $"'{text[..Longest]}...'";
    }
}
