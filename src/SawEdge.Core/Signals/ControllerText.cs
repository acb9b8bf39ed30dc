using System.Text;

namespace SawEdge.Core.Signals;

/// <summary>Text from controllers and brokers is hostile: it is bounded and cleaned once, where it comes in.</summary>
public static class ControllerText
{
    /// <summary>The longest text kept, in characters.</summary>
    public const int MaximumLength = 128;

    /// <summary>
    /// Trims, drops control and bidirectional-override characters and unpaired surrogates, and cuts at
    /// <see cref="MaximumLength"/>.
    /// </summary>
    /// <returns>The cleaned text, or an empty text where nothing is left. The same instance where nothing had to be done.</returns>
    public static string Clean(string raw) => CleanUpTo(raw, MaximumLength);

    /// <summary>The same for a text in which such texts stand, which may be longer.</summary>
    /// <param name="raw">The text.</param>
    /// <param name="longest">Characters at most.</param>
    /// <inheritdoc cref="Clean(string)" path="/returns"/>
    public static string CleanUpTo(string raw, int longest)
    {
        var trimmed = raw.Trim();
        if (trimmed.Length <= longest && trimmed.All(IsPlain))
            return trimmed;

        var clean = new StringBuilder(Math.Min(trimmed.Length, longest));
        foreach (var rune in trimmed.EnumerateRunes())
        {
            if (rune == Rune.ReplacementChar || !IsAllowed(rune))
                continue;
            if (clean.Length + rune.Utf16SequenceLength > longest)
                break;
            clean.Append(rune);
        }

        return clean.ToString().Trim();
    }

    private static bool IsPlain(char c) => c is >= ' ' and <= '~';

    private static bool IsAllowed(Rune rune) =>
        !Rune.IsControl(rune) && rune.Value is not ((>= 0x202A and <= 0x202E) or (>= 0x2066 and <= 0x2069) or 0x200E or 0x200F or 0x2028 or 0x2029 or 0xFEFF);
}
