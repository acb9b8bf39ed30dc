using System.Globalization;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>Declares a flag of a Modbus saw: a bit, or a whole number of which some values mean yes.</summary>
internal static class ModbusFlags
{
    private static readonly ChoiceType<RegisterType> Types = new([("bool", RegisterType.Bool, "A coil, a discrete input, or one bit of a register."), .. ModbusSignals.Whole]);

    private static readonly IntegerType Bits = new(0, 63, "0");

    private static readonly ListType<double> Numbers = new(new NumberType(whole: true, -9e15, 9e15, "3"), 1, "write the raw values that mean yes, for example [3, 4]");

    /// <summary>Declares one.</summary>
    public static ModbusSignal Bind(ConfigObject o, Setting<RegisterAddress> address)
    {
        var type = o.Default("type", Types, "bool", "How the flag is kept: as one bit, or as a whole number. Of a number bit or values says what means yes; without either, any value but 0 does.");
        var bit = o.OptionalValue("bit", Bits, "The bit of a register, 0 the least significant; of a number in several registers with its type.");
        var values = o.Optional("values", Numbers, "The raw values of a whole number that mean yes, for example [3, 4] of a register that holds the saw's state.");
        var order = ModbusSignals.Order(o);
        var invert = o.Default("invert", ValueTypes.Flag, "false", "Whether it is turned round: 0, or any value that is not listed, then means yes.");
        if (address.IsGood && type.IsGood && address.Value.IsBit)
            CheckBit(o, address, type, bit, values);
        else if (address.IsGood && type.IsGood)
            CheckRegister(o, type, bit, values);
        return new ModbusSignal(
            ModbusSignals.Register(address, type, order) with { Bit = bit, Values = values.Value?.Select(value => (long)value.Value).ToArray(), Invert = invert },
            null);
    }

    private static void CheckBit<T>(ConfigObject o, Setting<RegisterAddress> address, Setting<RegisterType> type, Setting<int?> bit, Setting<T> values)
    {
        if (bit.IsStated)
            o.Error(bit, $"{address.Value} is one bit already; leave bit out");
        else if (type.Value != RegisterType.Bool)
            o.Error(type, $"{address.Value} is one bit; leave type out");
        else if (values.IsStated)
            o.Error(values, $"{address.Value} is one bit; leave values out, and write invert where 0 means yes");
    }

    private static void CheckRegister(ConfigObject o, Setting<RegisterType> type, Setting<int?> bit, Setting<IReadOnlyList<Setting<double>>?> values)
    {
        if (values.IsStated && bit.IsStated)
            o.Error(values, "bit says already what means yes; leave one of the two out");
        else if (values.IsStated && type.Value == RegisterType.Bool)
            o.Error(values, "belongs to a whole number; write its type beside it, for example \"type\": \"uint16\"");
        else if (type.Value == RegisterType.Bool && !bit.IsStated)
            o.ErrorAt("bit", "is missing; write the bit, 0 (lowest) to 15, or \"type\": \"uint16\" where any value but 0 means yes");
        else if (bit is { IsGood: true, Value: { } number })
            CheckBitOf(o, type, bit, number);

        var (least, greatest) = RangeOf(type);
        foreach (var value in values.Value ?? [])
        {
            if (value.IsGood && type.Value != RegisterType.Bool && (value.Value < least || value.Value > greatest))
                o.Error(value, string.Create(CultureInfo.InvariantCulture, $"{value.Value:0} cannot come from this type; write {least:0} to {greatest:0}"));
        }
    }

    private static void CheckBitOf(ConfigObject o, Setting<RegisterType> type, Setting<int?> bit, int number)
    {
        if (type.Value is RegisterType.Bcd16 or RegisterType.Bcd32)
            o.Error(bit, "decimal digits hold no flags; leave type or bit out");
        else if (number >= BitsOf(type))
            o.Error(bit, string.Create(CultureInfo.InvariantCulture, $"{number} is out of range; write 0 to {BitsOf(type) - 1}{(type.Value == RegisterType.Bool ? ", or the type of a number in several registers, for example \"uint32\"" : "")}"));
    }

    private static int BitsOf(RegisterType type) => 16 * new RegisterMapping { Signal = default, Table = default, Address = 0, Type = type }.Count;

    private static (double Least, double Greatest) RangeOf(RegisterType type) => type switch
    {
        RegisterType.Int16 => (short.MinValue, short.MaxValue),
        RegisterType.UInt32 => (0, uint.MaxValue),
        RegisterType.Int32 => (int.MinValue, int.MaxValue),
        RegisterType.UInt64 => (0, 9e15),
        RegisterType.Int64 => (-9e15, 9e15),
        RegisterType.Bcd16 => (0, 9999),
        RegisterType.Bcd32 => (0, 99_999_999),
        _ => (0, ushort.MaxValue),
    };
}
