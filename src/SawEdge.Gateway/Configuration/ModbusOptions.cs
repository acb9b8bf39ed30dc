using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Configuration;

/// <summary>Registers and bits of one unit of a Modbus device.</summary>
public sealed record ModbusSourceOptions : SourceOptions
{
    /// <summary>Name of the device in <see cref="GatewayOptions.ModbusDevices"/>.</summary>
    public required string Device { get; init; }

    /// <summary>Unit identifier, 0..255.</summary>
    public required byte Unit { get; init; }

    /// <summary>What is read where; a signal at most once.</summary>
    public required IReadOnlyList<RegisterMapping> Signals { get; init; }
}

/// <summary>The four tables of the Modbus data model.</summary>
public enum RegisterTable
{
    /// <summary>Coils, function code 1.</summary>
    Coil,

    /// <summary>Discrete inputs, function code 2.</summary>
    DiscreteInput,

    /// <summary>Holding registers, function code 3.</summary>
    Holding,

    /// <summary>Input registers, function code 4.</summary>
    Input,
}

/// <summary>How the words of a register value are put together.</summary>
public enum RegisterType
{
    /// <summary>One bit: a coil or discrete input, or one bit of a register.</summary>
    Bool,

    /// <summary>Unsigned 16 bit.</summary>
    UInt16,

    /// <summary>Signed 16 bit.</summary>
    Int16,

    /// <summary>Unsigned 32 bit.</summary>
    UInt32,

    /// <summary>Signed 32 bit.</summary>
    Int32,

    /// <summary>IEEE 754 single.</summary>
    Float32,

    /// <summary>Unsigned 64 bit.</summary>
    UInt64,

    /// <summary>Signed 64 bit.</summary>
    Int64,

    /// <summary>IEEE 754 double.</summary>
    Float64,

    /// <summary>ASCII text, two characters a register.</summary>
    Ascii,

    /// <summary>Binary-coded decimal, four digits in one register.</summary>
    Bcd16,

    /// <summary>Binary-coded decimal, eight digits in two registers.</summary>
    Bcd32,
}

/// <summary>In which order the bytes of a value larger than one register arrive; A is the most significant.</summary>
public enum WordOrder
{
    /// <summary>Most significant word first, most significant byte first: the usual order.</summary>
    Abcd,

    /// <summary>Least significant word first, bytes in order.</summary>
    Cdab,

    /// <summary>Most significant word first, bytes swapped in each word.</summary>
    Badc,

    /// <summary>Everything reversed.</summary>
    Dcba,
}

/// <summary>One signal's place in a Modbus unit and the way from raw to engineering value.</summary>
public sealed record RegisterMapping
{
    /// <summary>The signal.</summary>
    public required Signal Signal { get; init; }

    /// <summary>The table.</summary>
    public required RegisterTable Table { get; init; }

    /// <summary>Protocol address, from 0.</summary>
    public required ushort Address { get; init; }

    /// <summary>How the raw value is put together.</summary>
    public required RegisterType Type { get; init; }

    /// <summary>Byte and word order.</summary>
    public WordOrder Order { get; init; } = WordOrder.Abcd;

    /// <summary>The bit, 0 the least significant, where one bit of a register, or of a whole number in several, is a flag.</summary>
    public int? Bit { get; init; }

    /// <summary>The raw whole numbers that mean yes, for a flag that is kept as one; null: any but 0.</summary>
    public IReadOnlyList<long>? Values { get; init; }

    /// <summary>Whether a flag is turned round.</summary>
    public bool Invert { get; init; }

    /// <summary>How often it is read where that is less often than the saw's interval; its value holds in between. Null: with each reading.</summary>
    public TimeSpan? Every { get; init; }

    /// <summary>Registers of a text.</summary>
    public int Length { get; init; } = 1;

    /// <summary>Registers (or bits of a bit table) that the value takes.</summary>
    public int Count => Type switch
    {
        RegisterType.UInt32 or RegisterType.Int32 or RegisterType.Float32 or RegisterType.Bcd32 => 2,
        RegisterType.UInt64 or RegisterType.Int64 or RegisterType.Float64 => 4,
        RegisterType.Ascii => Length,
        _ => 1,
    };

    /// <summary>The way from the number in the registers to the signal's unit; whatever unit the user stated is worked in.</summary>
    public ValueConversion Conversion { get; init; } = ValueConversion.Identity;

    /// <summary>Least value that is believed, in the signal's unit.</summary>
    public double? Minimum { get; init; }

    /// <summary>Greatest value that is believed, in the signal's unit.</summary>
    public double? Maximum { get; init; }

    /// <summary>Texts for raw whole numbers, for text signals that the controller keeps as a code.</summary>
    public IReadOnlyDictionary<long, string>? Texts { get; init; }
}
