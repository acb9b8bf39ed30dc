using SawEdge.Core.Signals;

namespace SawEdge.Simulator.Modbus;

/// <summary>The four tables of the Modbus data model (MODBUS Application Protocol V1.1b3, 4.3).</summary>
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

/// <summary>How a value is laid into registers. The names are those of the gateway's configuration.</summary>
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

    /// <summary>IEEE 754 double.</summary>
    Float64,

    /// <summary>ASCII text, two characters a register, padded with zeros.</summary>
    Ascii,
}

/// <summary>In which order the bytes of a value larger than one register are sent; A is the most significant.</summary>
public enum WordOrder
{
    /// <summary>Most significant word first.</summary>
    Abcd,

    /// <summary>Least significant word first, bytes in order.</summary>
    Cdab,

    /// <summary>Most significant word first, bytes swapped in each word.</summary>
    Badc,

    /// <summary>Everything reversed.</summary>
    Dcba,
}

/// <summary>One signal's place in a unit's registers. Read back as value = raw * <see cref="Scale"/> + <see cref="Offset"/>.</summary>
/// <param name="Signal">The signal.</param>
/// <param name="Table">The table.</param>
/// <param name="Address">Protocol address, from 0.</param>
/// <param name="Type">How the value is laid down.</param>
public sealed record RegisterField(Signal Signal, RegisterTable Table, ushort Address, RegisterType Type)
{
    /// <summary>Word and byte order of values larger than one register.</summary>
    public WordOrder Order { get; init; } = WordOrder.Abcd;

    /// <summary>The bit, 0 the least significant, where a flag is one bit of a register.</summary>
    public int? Bit { get; init; }

    /// <summary>Registers of a text.</summary>
    public int Length { get; init; } = 1;

    /// <summary>Signal units in one step of the raw value.</summary>
    public double Scale { get; init; } = 1;

    /// <summary>Signal value at raw 0.</summary>
    public double Offset { get; init; }

    /// <summary>Raw codes of a text signal that the controller keeps as a number.</summary>
    public IReadOnlyDictionary<long, string>? Texts { get; init; }

    /// <summary>Whether it lies in one of the two bit tables.</summary>
    public bool IsBit => Table is RegisterTable.Coil or RegisterTable.DiscreteInput;

    /// <summary>Registers (or bits) that it takes.</summary>
    public int Width => Type switch
    {
        RegisterType.UInt32 or RegisterType.Int32 or RegisterType.Float32 => 2,
        RegisterType.Float64 => 4,
        RegisterType.Ascii => Length,
        _ => 1,
    };
}
