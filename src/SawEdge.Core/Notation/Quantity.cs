namespace SawEdge.Core.Notation;

/// <summary>A number with its unit, as people write it: <c>250 mm</c>, <c>1-1/4 in</c>, <c>11 in2/min</c>, <c>210 HB</c>.</summary>
/// <param name="Value">The number.</param>
/// <param name="Unit">The unit in lower case; empty where there is none.</param>
public readonly record struct Quantity(double Value, string Unit)
{
    /// <summary>Reads a quantity; null where the text does not begin with a number, blanks aside.</summary>
    /// <param name="text">The text.</param>
    public static Quantity? Parse(string text)
    {
        var errors = new List<NotationError>();
        var tokens = NotationTokens.Read(text, errors);
        if (tokens.Count == 0 || tokens[0].Kind != TokenKind.Number || tokens[0].Position != text.Length - text.AsSpan().TrimStart().Length || errors.Exists(e => e.Position == tokens[0].Position))
            return null;
        var unit = text[(tokens[0].Position + tokens[0].Text.Length)..].Trim().TrimEnd('.').ToLowerInvariant();
        return new Quantity(tokens[0].Value, unit switch { "\"" => "in", "'" => "ft", _ => unit.Replace("²", "2", StringComparison.Ordinal) });
    }

    /// <summary>The quantity as a length, mm; null where its unit is none of length.</summary>
    public double? LengthMm => Value * Lengths.MillimetresPer(Unit);

    /// <summary>The quantity as a time, s; null where its unit is none of time.</summary>
    public double? Seconds => Unit switch { "s" or "sec" => Value, "min" => Value * 60, "h" => Value * 3600, _ => null };

    /// <summary>The quantity as a cutting rate, cm2/min; null where its unit is none of an area rate.</summary>
    public double? RateCm2Min => Unit switch
    {
        "cm2/min" => Value,
        "mm2/min" => Value / 100,
        "in2/min" => Value * Lengths.MmPerInch * Lengths.MmPerInch / 100,
        _ => null,
    };

    /// <summary>The quantity as a speed, m/min; null where its unit is none of speed.</summary>
    public double? SpeedMMin => Unit switch
    {
        "m/min" => Value,
        "m/s" => Value * 60,
        "ft/min" or "fpm" or "sfm" => Value * 12 * Lengths.MmPerInch / 1000,
        _ => null,
    };
}
