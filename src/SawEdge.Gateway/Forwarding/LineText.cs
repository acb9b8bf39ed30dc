namespace SawEdge.Gateway.Forwarding;

/// <summary>What line protocol cannot carry in texts, and what stands in for it. Pure.</summary>
internal static class LineText
{
    /// <summary>A text as the value of a tag.</summary>
    /// <remarks>
    /// A backslash at the end of a tag value, or before one of the escaped characters, cannot be written so that all
    /// servers read the same (the protocol has no escape for it in tags); a slash stands in for it.
    /// </remarks>
    public static string Tag(string value) => Field(value).Replace('\\', '/');

    /// <summary>A text as the value of a field: the protocol ends a point at a line feed and knows no way to write one inside a value.</summary>
    public static string Field(string text) => text.AsSpan().ContainsAny('\r', '\n') ? text.ReplaceLineEndings(" ") : text;
}
