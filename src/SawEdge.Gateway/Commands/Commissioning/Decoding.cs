using System.Globalization;
using System.Text;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>One way to take registers for a number.</summary>
/// <param name="Type">The type.</param>
/// <param name="Order">The order of its bytes.</param>
internal readonly record struct Decoding(RegisterType Type, WordOrder Order)
{
    /// <summary>Registers that it takes.</summary>
    public int Length => Type switch
    {
        RegisterType.UInt32 or RegisterType.Int32 or RegisterType.Float32 or RegisterType.Bcd32 => 2,
        RegisterType.UInt64 or RegisterType.Int64 or RegisterType.Float64 => 4,
        _ => 1,
    };

    /// <summary>The type as a configuration names it.</summary>
    public string TypeName => Type.ToString().ToLowerInvariant();

    /// <summary>The order as a configuration names it.</summary>
    public string OrderName => Order.ToString().ToLowerInvariant();

    /// <summary>Whether the number is a floating one.</summary>
    public bool IsFloat => Type is RegisterType.Float32 or RegisterType.Float64;

    /// <summary>The number; NaN where the registers hold none.</summary>
    /// <param name="words">As many registers as <see cref="Length"/>.</param>
    public double Of(ReadOnlySpan<ushort> words) => RegisterValue.Number(RegisterValue.Bits(words, Order), Type);

    /// <summary>
    /// Whether a floating number can well be meant: 0, or of a magnitude that machines tell (a ten-thousandth to ten million). Registers that hold
    /// something else nearly always give numbers far outside.
    /// </summary>
    public static bool IsPlausible(double value) => value == 0 || (double.IsFinite(value) && Math.Abs(value) is >= 1e-4 and < 1e7);

    /// <summary>A floating number with six digits, as short as it goes.</summary>
    public static string Text(double value)
    {
        var size = Math.Abs(value);
        return value == 0 ? "0"
            : size is >= 1e-4 and < 1e7 ? value.ToString("G6", CultureInfo.InvariantCulture) is var text && !text.Contains('E') ? text : Math.Round(value).ToString("0", CultureInfo.InvariantCulture)
            : value.ToString("0.##e+0", CultureInfo.InvariantCulture);
    }

    /// <summary>The two characters of a register, ASCII; a dot in the place of what cannot be printed.</summary>
    public static string Characters(ushort word) => $"{Character(word >> 8)}{Character(word & 0xFF)}";

    /// <summary>The bytes of registers as Latin-1, a NUL in the place of what cannot be printed.</summary>
    public static string Characters(ReadOnlySpan<ushort> words, bool swapped)
    {
        var text = new StringBuilder(words.Length * 2);
        foreach (var word in words)
        {
            var ordered = RegisterValue.Word(word, swapped ? WordOrder.Badc : WordOrder.Abcd);
            text.Append(Printable(ordered >> 8)).Append(Printable(ordered & 0xFF));
        }

        return text.ToString();
    }

    private static char Character(int code) => code is >= 0x20 and <= 0x7E ? (char)code : '.';

    private static char Printable(int code) => code is (>= 0x20 and <= 0x7E) or >= 0xA0 ? (char)code : '\0';
}
