using System.Globalization;

namespace SawEdge.Core.Notation;

/// <summary>What a piece of notation is.</summary>
internal enum TokenKind : byte
{
    Word,
    Number,
    Times,
    Open,
    Close,
    Comma,
    Percent,
}

/// <summary>One piece of notation: its kind, its text in lower case, its value where it is a number, and where it stands (0-based).</summary>
internal readonly record struct Token(TokenKind Kind, string Text, double Value, int Position);

/// <summary>Splits notation into words, numbers (decimal, fraction, mixed number) and signs.</summary>
internal static class NotationTokens
{
    /// <summary>Reads the whole text.</summary>
    /// <param name="text">The notation.</param>
    /// <param name="errors">Receives what could not be read.</param>
    public static List<Token> Read(string text, List<NotationError> errors)
    {
        var tokens = new List<Token>();
        var at = 0;
        while (at < text.Length)
        {
            var c = text[at];
            if (char.IsWhiteSpace(c) || c == ';')
                at++;
            else if (NumberBegins(text.AsSpan(at)))
                at = ReadNumber(text, at, tokens, errors);
            else if ((c is 'x' or 'X' && (at + 1 == text.Length || !char.IsAsciiLetter(text[at + 1]))) || c is '×' or '*')
                tokens.Add(new Token(TokenKind.Times, "x", 0, at++));
            else if (c is '(' or ')' or ',' or '%')
                tokens.Add(new Token(c switch { '(' => TokenKind.Open, ')' => TokenKind.Close, ',' => TokenKind.Comma, _ => TokenKind.Percent }, c.ToString(), 0, at++));
            else if (c is '"' or '”' or '\'' or '°')
                at = ReadMark(text, at, tokens);
            else if (char.IsAsciiLetter(c))
                at = ReadWord(text, at, tokens);
            else
                errors.Add(new NotationError(at, $"'{text[at++]}' has no meaning here; write sizes as '100 x 50 mm' or '4 in x 1/4 in'."));
        }

        return tokens;
    }

    /// <summary>Whether a digit stands here, with a sign, a point or both before it.</summary>
    private static bool NumberBegins(ReadOnlySpan<char> text)
    {
        if (text is ['-' or '+', ..])
            text = text[1..];
        if (text is ['.', ..])
            text = text[1..];
        return text.Length > 0 && char.IsAsciiDigit(text[0]);
    }

    private static int ReadWord(string text, int start, List<Token> tokens)
    {
        var end = start;
        while (end < text.Length && (char.IsAsciiLetter(text[end]) || (text[end] == '-' && end + 1 < text.Length && char.IsAsciiLetter(text[end + 1]))))
            end++;
        tokens.Add(new Token(TokenKind.Word, text[start..end].ToLowerInvariant(), 0, start));

        // "in." and "dia." are how the trade abbreviates.
        return end < text.Length && text[end] == '.' && (end + 1 == text.Length || !char.IsAsciiDigit(text[end + 1])) ? end + 1 : end;
    }

    private static int ReadMark(string text, int start, List<Token> tokens)
    {
        var isDouble = text[start] == '\'' && start + 1 < text.Length && text[start + 1] == '\'';
        var word = text[start] == '°' ? "deg" : text[start] == '\'' && !isDouble ? "ft" : "in";
        tokens.Add(new Token(TokenKind.Word, word, 0, start));
        return start + (isDouble ? 2 : 1);
    }

    private static int ReadNumber(string text, int start, List<Token> tokens, List<NotationError> errors)
    {
        var at = start;
        if (text[at] is '-' or '+')
            at++;
        at = Digits(text, at, allowPoint: true);
        var value = double.Parse(text.AsSpan(start, at - start).TrimEnd('.'), CultureInfo.InvariantCulture);

        if (at < text.Length && text[at] == '/' && at + 1 < text.Length && char.IsAsciiDigit(text[at + 1]))
        {
            value = Fraction(text, ref at, value, errors, start);
        }
        else if (FractionFollows(text, at, out var numeratorAt))
        {
            // The sign of a mixed number belongs to both of its parts.
            var sign = text[start] == '-' ? -1 : 1;
            at = Digits(text, numeratorAt, allowPoint: false);
            var numerator = double.Parse(text.AsSpan(numeratorAt, at - numeratorAt), CultureInfo.InvariantCulture);
            value += sign * Fraction(text, ref at, numerator, errors, start);
        }

        tokens.Add(new Token(TokenKind.Number, text[start..at], value, start));
        return at;
    }

    private static double Fraction(string text, ref int at, double numerator, List<NotationError> errors, int start)
    {
        var from = at + 1;
        at = Digits(text, from, allowPoint: false);
        var denominator = double.Parse(text.AsSpan(from, at - from), CultureInfo.InvariantCulture);
        if (denominator != 0)
            return numerator / denominator;
        errors.Add(new NotationError(start, $"'{text[start..at]}' divides by zero; write a fraction such as 1-1/4."));
        return 1;
    }

    /// <summary>Whether "-1/4" or " 1/4" follows a whole number at a place.</summary>
    private static bool FractionFollows(string text, int at, out int numeratorAt)
    {
        numeratorAt = at + 1;
        if (at >= text.Length || text[at] is not ('-' or ' ') || numeratorAt >= text.Length || !char.IsAsciiDigit(text[numeratorAt]))
            return false;
        var end = Digits(text, numeratorAt, allowPoint: false);
        return end + 1 < text.Length && text[end] == '/' && char.IsAsciiDigit(text[end + 1]);
    }

    private static int Digits(string text, int at, bool allowPoint)
    {
        while (at < text.Length && (char.IsAsciiDigit(text[at]) || (allowPoint && text[at] == '.')))
        {
            allowPoint &= text[at] != '.';
            at++;
        }

        return at;
    }
}
