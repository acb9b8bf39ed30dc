namespace SawEdge.Gateway.Formats.Tables;

/// <summary>
/// A value of a table, of the type of its column. <c>default</c> is a value that is not known; so is an empty text and a number that is
/// not finite.
/// </summary>
public readonly struct Cell
{
    private readonly long _bits;
    private readonly string? _text;

    private Cell(long bits, string? text)
    {
        (_bits, _text) = (bits, text);
        IsKnown = true;
    }

    /// <summary>Whether there is a value.</summary>
    public bool IsKnown { get; }

    /// <summary>The value of a column of numbers.</summary>
    public double Number => BitConverter.Int64BitsToDouble(_bits);

    /// <summary>The value of a column of whole numbers.</summary>
    public long Integer => _bits;

    /// <summary>The value of a column of moments: milliseconds since 1970, UTC.</summary>
    public long Milliseconds => _bits;

    /// <summary>The value of a column of flags.</summary>
    public bool Flag => _bits != 0;

    /// <summary>The value of a column of texts; empty where it is not known.</summary>
    public string Text => _text ?? "";

    /// <summary>A number.</summary>
    public static Cell Of(double value) => double.IsFinite(value) ? new(BitConverter.DoubleToInt64Bits(value), null) : default;

    /// <summary>A whole number.</summary>
    public static Cell Of(long value) => new(value, null);

    /// <summary>A flag.</summary>
    public static Cell Of(bool value) => new(value ? 1 : 0, null);

    /// <summary>A text.</summary>
    public static Cell Of(string value) => value.Length > 0 ? new(0, value) : default;

    /// <summary>A moment; what is finer than a millisecond is cut off.</summary>
    public static Cell Of(DateTimeOffset value) => new(value.ToUnixTimeMilliseconds(), null);

    /// <summary>A moment, milliseconds since 1970, UTC.</summary>
    public static Cell OfMilliseconds(long value) => new(value, null);
}
