using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Acquisition.Modbus;

/// <summary>
/// How values lie in 16-bit registers. The standard defines no type wider than a register (Modbus Application Protocol
/// V1.1b3, clause 4.2), so types and orders are those of the mapping. Pure functions.
/// </summary>
internal static class RegisterValue
{
    /// <summary>The value's bits, whatever the order in which they came: one, two or four registers.</summary>
    public static ulong Bits(ReadOnlySpan<ushort> words, WordOrder order)
    {
        var isLeastFirst = order is WordOrder.Cdab or WordOrder.Dcba;
        ulong bits = 0;
        for (var i = 0; i < words.Length; i++)
            bits = (bits << 16) | Word(words[isLeastFirst ? words.Length - 1 - i : i], order);
        return bits;
    }

    /// <summary>One register with its two bytes in order.</summary>
    public static ushort Word(ushort word, WordOrder order) =>
        order is WordOrder.Badc or WordOrder.Dcba ? (ushort)((word << 8) | (word >> 8)) : word;

    /// <summary>
    /// The number that the bits stand for, NaN for binary-coded digits above 9. Whole numbers of more than 53 bits are rounded to the
    /// nearest double.
    /// </summary>
    public static double Number(ulong bits, RegisterType type) => type switch
    {
        RegisterType.Int16 => (short)bits,
        RegisterType.Int32 => (int)bits,
        RegisterType.Int64 => (long)bits,
        RegisterType.Float32 => BitConverter.UInt32BitsToSingle((uint)bits),
        RegisterType.Float64 => BitConverter.UInt64BitsToDouble(bits),
        RegisterType.Bcd16 or RegisterType.Bcd32 => Decimal(bits) ?? double.NaN,
        _ => bits,
    };

    /// <summary>The whole number that the bits stand for, or null where they stand for none that fits.</summary>
    public static long? Whole(ulong bits, RegisterType type)
    {
        switch (type)
        {
            case RegisterType.Int16 or RegisterType.Int32:
                return (long)Number(bits, type);
            case RegisterType.Float32 or RegisterType.Float64:
                var number = Number(bits, type);
                return Math.Abs(number) < 1L << 53 && Math.Truncate(number) == number ? (long)number : null;
            case RegisterType.Bcd16 or RegisterType.Bcd32:
                return Decimal(bits);
            case RegisterType.UInt64:
                return bits <= long.MaxValue ? (long)bits : null;
            default:
                return (long)bits;
        }
    }

    /// <summary>Binary-coded decimal: a digit in each four bits. Null where four bits are no digit.</summary>
    private static long? Decimal(ulong bits)
    {
        long number = 0;
        for (var shift = 28; shift >= 0; shift -= 4)
        {
            var digit = (bits >> shift) & 0xF;
            if (digit > 9)
                return null;
            number = (number * 10) + (long)digit;
        }

        return number;
    }
}
