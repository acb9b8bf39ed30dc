namespace SawEdge.Gateway.Forwarding;

/// <summary>What line protocol cannot carry in texts, and what stands in for it. Pure.</summary>
internal static class LineText
{
    /// <summary>A text as the value of a tag.</summary>
    /// <remarks>
    /// A backslash at the end of a tag value, or before one of the escaped characters, cannot be written so that all
    /// servers read the same (the protocol has no escape for it in tags); a slash stands in for it. Control characters, which no list of tag values can
    /// show, are spaces: servers may be set up to refuse them.
    /// </remarks>
    public static string Tag(string value)
    {
        foreach (var letter in value)
        {
            if (letter == '\\' || char.IsControl(letter))
                return string.Create(value.Length, value, static (written, from) =>
                {
                    for (var i = 0; i < written.Length; i++)
                        written[i] = from[i] == '\\' ? '/' : char.IsControl(from[i]) ? ' ' : from[i];
                });
        }

        return value;
    }

    /// <summary>A text as the value of a field: the protocol ends a point at a line feed and knows no way to write one inside a value.</summary>
    /// <remarks>All else goes as it is, control characters as well. Half of a surrogate pair, which is no Unicode, is U+FFFD in what leaves.</remarks>
    public static string Field(string text) => text.AsSpan().ContainsAny('\r', '\n') ? text.Replace("\r\n", " ", StringComparison.Ordinal).Replace('\n', ' ').Replace('\r', ' ') : text;
}
