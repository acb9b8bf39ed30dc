namespace SawEdge.Core.Notation;

/// <summary>Units of length as people write them.</summary>
public static class Lengths
{
    /// <summary>Millimetres in an inch, exact by definition (international yard and pound agreement of 1959).</summary>
    public const double MmPerInch = 25.4;

    /// <summary>Millimetres per unit; null where the unit is not known.</summary>
    /// <param name="unit">The unit in lower case.</param>
    public static double? MillimetresPer(string unit) => unit switch
    {
        "mm" or "millimetre" or "millimetres" or "millimeter" or "millimeters" => 1,
        "cm" => 10,
        "m" => 1000,
        "in" or "inch" or "inches" => MmPerInch,
        "ft" or "foot" or "feet" => 12 * MmPerInch,
        _ => null,
    };
}
