using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>One signal's place in a Modbus unit.</summary>
/// <param name="Register">The mapping; for a measured number without scale, offset and limits.</param>
/// <param name="Conversion">Scale, unit and limits of a measured number; null for other signals.</param>
internal sealed record ModbusSignal(RegisterMapping Register, SignalConversion? Conversion)
{
    /// <summary>How often it is read; not stated: each time.</summary>
    public Setting<TimeSpan?> Every { get; init; }
}

/// <summary>Declares the signals of a Modbus saw.</summary>
internal static class ModbusSignals
{
    /// <summary>Whole numbers.</summary>
    public static readonly (string, RegisterType, string)[] Whole =
    [
        ("uint16", RegisterType.UInt16, "Unsigned, one register."),
        ("int16", RegisterType.Int16, "Signed, one register."),
        ("uint32", RegisterType.UInt32, "Unsigned, two registers."),
        ("int32", RegisterType.Int32, "Signed, two registers."),
        ("uint64", RegisterType.UInt64, "Unsigned, four registers."),
        ("int64", RegisterType.Int64, "Signed, four registers."),
        ("bcd16", RegisterType.Bcd16, "Binary-coded decimal, four digits in one register."),
        ("bcd32", RegisterType.Bcd32, "Binary-coded decimal, eight digits in two registers."),
    ];

    private static readonly (string, RegisterType, string)[] Floating =
    [
        ("float32", RegisterType.Float32, "IEEE 754 single, two registers."),
        ("float64", RegisterType.Float64, "IEEE 754 double, four registers."),
    ];

    private static readonly ChoiceType<RegisterType> NumberTypes = new([.. Whole, .. Floating]);

    private static readonly ChoiceType<RegisterType> TextTypes = new([("ascii", RegisterType.Ascii, "Characters, two a register."), .. Whole, ("bool", RegisterType.Bool, "A single bit with two texts.")]);

    private static readonly ChoiceType<WordOrder> Orders = new(
        ("abcd", WordOrder.Abcd, "Most significant word first, most significant byte first: the usual order."),
        ("cdab", WordOrder.Cdab, "Least significant word first (\"word swap\")."),
        ("badc", WordOrder.Badc, "Bytes swapped in each word (\"byte swap\")."),
        ("dcba", WordOrder.Dcba, "Everything reversed."));

    private static readonly RegisterAddressType Address = new();

    private static readonly IntegerType Bits = new(0, 15, "0");

    // An answer to one request holds 125 registers at most (MODBUS Application Protocol Specification V1.1b3, 6.3 and 6.4).
    private static readonly IntegerType TextLength = new(1, 125, "10");

    /// <summary>All signals of a Modbus saw.</summary>
    public static ObjectType<IReadOnlyList<MappedSignal<ModbusSignal>>> Type { get; } = SignalTable.Of(
        "modbusSignals",
        "Where the signals stand in the Modbus unit. Head position, cutting or cycle_active is needed, and motor_load for everything about load.",
        SignalTable.Shared(MappingOf));

    private static ConfigType<ModbusSignal> MappingOf(SignalInfo info)
    {
        Func<ConfigObject, Setting<RegisterAddress>, ModbusSignal> bind = info.Kind switch
        {
            SignalKind.Number => (o, address) => BindNumber(o, address, info),
            SignalKind.Integer => BindInteger,
            SignalKind.Flag => ModbusFlags.Bind,
            _ => (o, address) => BindText(o, address, info),
        };
        return new ObjectType<ModbusSignal>($"modbus{SignalTable.ShapeOf(info)}", "One signal's place in the Modbus unit.", o =>
        {
            var address = o.Required("address", Address, "Table and protocol address (\"holding 100\", from 0), or the reference number of a register list (40101, from 1).");
            var signal = bind(o, address) with { Every = PollRates.Bind(o) };
            var end = address.Value.Address + signal.Register.Count - 1;
            if (address.IsGood && end > ushort.MaxValue)
                o.Error(address, $"{address.Value} is too high for a value of {signal.Register.Count} registers; the last that fits is {RegisterAddress.WordFor(address.Value.Table)} {ushort.MaxValue - signal.Register.Count + 1}");
            return signal;
        });
    }

    private static ModbusSignal BindNumber(ConfigObject o, Setting<RegisterAddress> address, SignalInfo info)
    {
        NoBit(o, address, "a number");
        var type = o.Required("type", NumberTypes, "How the registers make up the number.");
        return new ModbusSignal(Register(address, type, Order(o)), SignalConversion.Bind(o, info));
    }

    private static ModbusSignal BindInteger(ConfigObject o, Setting<RegisterAddress> address)
    {
        NoBit(o, address, "a whole number");
        var type = o.Required("type", NumberTypes, "How the registers make up the number.");
        var order = Order(o);
        var (minimum, maximum) = WholeLimits.Bind(o);
        return new ModbusSignal(Register(address, type, order) with { Minimum = minimum, Maximum = maximum }, null);
    }

    private static ModbusSignal BindText(ConfigObject o, Setting<RegisterAddress> address, SignalInfo info)
    {
        var type = o.OptionalValue("type", TextTypes, "How the text is kept: as characters, as a whole number (a code with texts, or a number that is the text itself), or as a single bit with texts. Needed for registers without bit.");
        var bit = o.OptionalValue("bit", Bits, "The bit of a register, 0 the least significant, where one bit decides between two texts.");
        var length = o.OptionalValue("registers", TextLength, "Registers of an ascii text, two characters each.");
        var order = Order(o);
        var texts = o.Optional("texts", new NumberMapType<string>(SignalTexts.For(info)), "What the raw whole numbers stand for. A number without a text makes the signal invalid.");
        var kept = type.Value ?? (address.Value.IsBit || bit.IsStated ? RegisterType.Bool : RegisterType.UInt16);
        if (type.IsGood && address.IsGood)
        {
            var isAscii = kept == RegisterType.Ascii;
            if (!type.IsStated && kept != RegisterType.Bool)
                o.ErrorAt("type", $"is missing; write {TextTypes.Words}");
            else if (kept == RegisterType.Bool)
                BitOfText(o, address, bit, texts.IsStated);
            else if (address.Value.IsBit)
                o.Error(type, $"{address.Value} is one bit; leave type out and write what 0 and 1 stand for in texts");
            else if (bit.IsStated)
                o.Error(bit, "belongs to type \"bool\"; leave type or bit out");
            if (isAscii && !length.IsStated)
                o.ErrorAt("registers", "is missing; write how many registers the text takes, two characters each, for example 10");
            if (!isAscii && length.IsStated)
                o.Error(length, "belongs to type \"ascii\"; leave it out");
            if (isAscii && texts.IsStated)
                o.Error(texts, "belongs to whole numbers; with type \"ascii\" leave it out");
            if (isAscii && order.Value is WordOrder.Cdab or WordOrder.Dcba)
                o.Error(order, "a text is \"abcd\" or, with the two characters of each register swapped, \"badc\"");
        }

        return new ModbusSignal(Register(address, kept, order) with { Bit = bit, Length = length.Value ?? 1, Texts = texts.Value }, null);
    }

    private static void BitOfText(ConfigObject o, Setting<RegisterAddress> address, Setting<int?> bit, bool hasTexts)
    {
        if (address.Value.IsBit && bit.IsStated)
            o.Error(bit, $"{address.Value} is one bit already; leave bit out");
        else if (!address.Value.IsBit && !bit.IsStated)
            o.ErrorAt("bit", "is missing; write the bit, 0 (lowest) to 15");
        if (!hasTexts)
            o.ErrorAt("texts", "is missing; write what the bit stands for, for example { \"0\": \"manual\", \"1\": \"automatic\" }");
    }

    /// <summary>Declares the order of a value's bytes.</summary>
    public static Setting<WordOrder> Order(ConfigObject o) => o.Default("order", Orders, "abcd", "Order of the bytes of a value larger than one register; A is the most significant.");

    private static void NoBit(ConfigObject o, Setting<RegisterAddress> address, string what)
    {
        if (address.IsGood && address.Value.IsBit)
            o.Error(address, $"{address.Value} is a single bit, and this signal is {what}; write a holding or input register");
    }

    /// <summary>A mapping whose signal is not known yet.</summary>
    public static RegisterMapping Register(Setting<RegisterAddress> address, RegisterType type, WordOrder order) =>
        new() { Signal = default, Table = address.Value.Table, Address = address.Value.Address, Type = type, Order = order };
}

/// <summary>Limits of a whole number.</summary>
internal static class WholeLimits
{
    private static readonly NumberType Number = new(whole: true, -9e15, 9e15, "0");

    /// <summary>Declares them.</summary>
    public static (double? Minimum, double? Maximum) Bind(ConfigObject o)
    {
        var minimum = o.OptionalValue("minimum", Number, "Least value that is believed; below it the signal is marked out of range.");
        var maximum = o.OptionalValue("maximum", Number, "Greatest value that is believed; above it the signal is marked out of range.");
        if (minimum.Value >= maximum.Value)
            o.Error(minimum, "must be less than maximum");
        return (minimum, maximum);
    }
}

/// <summary>The texts that a signal may have.</summary>
internal static class SignalTexts
{
    private static readonly ChoiceType<string> Modes = new(
        ("automatic", "automatic", "The saw cuts by itself."),
        ("semi_automatic", "semi_automatic", "Each cut is started by hand."),
        ("manual", "manual", "Everything is moved by hand."));

    /// <summary>The type of a text of that signal.</summary>
    public static ConfigType<string> For(SignalInfo info) => info.Signal == Signal.Mode ? Modes : ValueTypes.Text("A-100");
}
