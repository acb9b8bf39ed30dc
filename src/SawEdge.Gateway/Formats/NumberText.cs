using System.Globalization;

namespace SawEdge.Gateway.Formats;

/// <summary>Numbers as they stand in recordings and payloads: '.' as the decimal point, no grouping, whatever the machine's locale.</summary>
public static class NumberText
{
    // Powers of ten that a double holds exactly.
    private static readonly double[] Powers =
    [
        1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
    ];

    /// <summary>Reads a number; also NaN and Infinity, which the caller has to refuse.</summary>
    /// <param name="text">The whole text, nothing around it.</param>
    /// <param name="value">The nearest double.</param>
    /// <returns>Whether it is a number.</returns>
    public static bool TryParse(ReadOnlySpan<byte> text, out double value)
    {
        // Nearly every value of a recording has few digits and no exponent. Then digits (below 2^53) and power of ten are exact doubles,
        // and one division rounds once, to the nearest double (Clinger, "How to Read Floating Point Numbers Accurately", 1990).
        long digits = 0;
        var count = 0;
        var point = -1;
        var start = text.Length > 0 && text[0] == '-' ? 1 : 0;
        var i = start;
        for (; i < text.Length; i++)
        {
            var digit = text[i] - '0';
            if ((uint)digit <= 9 && count < 15)
            {
                digits = (digits * 10) + digit;
                count++;
            }
            else if (text[i] == '.' && point < 0)
            {
                point = i;
            }
            else
            {
                return double.TryParse(text, NumberStyles.AllowLeadingSign | NumberStyles.AllowDecimalPoint | NumberStyles.AllowExponent, CultureInfo.InvariantCulture, out value);
            }
        }

        value = digits / Powers[point < 0 ? 0 : text.Length - point - 1];
        if (start == 1)
            value = -value;
        return count > 0;
    }
}
